"""The mains in use with all that their worth is made of, in one order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.plan.ageing import Ageing, ageing_of, new_level_index, new_rate_per_year
from district.plan.drawn import drawn, scores
from district.plan.runs import Reals, Wholes, natural_order
from district.renewal_results import Draws, PipeRates

_SCORE_OF = {
    "break_currency": 1,
    "break_water_m3": 2,
    "hidden_currency": 3,
    "hidden_leak_m3_d": 3,
    "renewal_currency": 4,
}
"""What is drawn, and which amounts are drawn together. What a break costs and what it lets out are
drawn apart: water is a small part of the cost."""


@dataclass(frozen=True, eq=False)
class Mains:
    """N mains in natural order of their ids.

    table
        columns of PIPE_RATES and PIPE_COSTS.
    year
        of the plan.
    rate_draws
        shape (N, draws), breaks a year.
    ageing, age_at
        how they age, and the place of each one's age in it.
    new_rate_per_year, new_level_index
        breaks a year of a new main in its place, at the mean age: the published rate
        times the district's level.
    """

    table: pd.DataFrame
    year: int
    rate_draws: Draws
    ageing: Ageing
    age_at: Wholes
    new_rate_per_year: Reals
    new_level_index: float = 1.0

    def real(self, name: str) -> Reals:
        """A column as numbers, 0 where it is empty."""
        return np.asarray(np.nan_to_num(self.table[name].to_numpy(dtype=float)), dtype=float)

    def draws(self, name: str) -> Draws:
        """Draws of an amount of PIPE_COSTS by its limits: shape (N, draws)."""
        score = scores(self.rate_draws.shape[1], _SCORE_OF[name])
        lows, highs = self.table[f"{name}_low"], self.table[f"{name}_high"]
        return drawn(self.real(name), lows, highs, score)

    def site_draws(self, site_currency: float, spread_share: float) -> Draws:
        """Draws of what a site costs, together with the cost of renewal: shape (draws)."""
        low, high = site_currency * (1 - spread_share), site_currency * (1 + spread_share)
        score = scores(self.rate_draws.shape[1], _SCORE_OF["renewal_currency"])
        found: Any = drawn([site_currency], [low], [high], score)
        return np.asarray(found[0], dtype=np.float32)


def mains_of(rates: PipeRates, costs: pd.DataFrame) -> Mains:
    """The mains of the rates with their costs: table PIPE_COSTS, a row a main, in any order.

    Raises `KeyError` where a main has no costs.
    """
    order = natural_order(rates.table["pipe_id"])
    table = rates.table.iloc[order].reset_index(drop=True)
    own = costs.set_index("pipe_id").loc[table["pipe_id"]].reset_index(drop=True)
    ageing, age_at = ageing_of(rates)
    level = new_level_index(rates.terms)
    new_rate = new_rate_per_year(
        table["length_m"].fillna(0.0), table["diameter_mm"], level_index=level
    )
    return Mains(
        pd.concat([table, own], axis=1),
        rates.year,
        rates.draws[order],
        ageing,
        age_at[order],
        new_rate,
        level,
    )
