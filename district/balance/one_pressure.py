"""Nights brought to one pressure, and to the exponent their record tells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.balance.exponents import fitted_pressures, zone_exponents, zone_law
from district.balance.grids import ENDS, days_of, in_columns, wide, wide_estimate
from district.balance.leak_law import LEAST_LEFT, Law, around, leakage_ratio
from district.balance.night import NightBalance
from district.estimates import Array, Estimate, multiply_limits, scaled
from district.network import Network
from district.settings import Settings
from district.units import M3_PER_L_S_H


def at_one_pressure(
    network: Network,
    hourly: pd.DataFrame,
    night: NightBalance,
    *,
    pressures: pd.DataFrame,
    settings: Settings,
    cells: pd.Index[Any],
) -> tuple[NightBalance, pd.DataFrame, pd.DataFrame]:
    """The night balance and `pressures` by each zone's own exponent, and table ZONE_EXPONENTS.

    Parameters: `hourly` table HOURLY_PRESSURES; `night` from `night_balance`; `pressures` from
    `zone_pressures`, covering its nights; `cells` of both. Neither is written to.
    """
    exponents = zone_exponents(night, pressures=pressures, settings=settings, cells=cells)
    pressures = fitted_pressures(
        network, hourly, pressures=pressures, exponents=exponents, settings=settings
    )
    law = zone_law(exponents, form=settings.pressure.form, cells=cells)
    nights = corrected_nights(night.nights, pressures=pressures, law=law, settings=settings)
    return replace(night, nights=nights), pressures, exponents


def corrected_nights(
    nights: pd.DataFrame, *, pressures: pd.DataFrame, law: Law, settings: Settings
) -> pd.DataFrame:
    """Table NIGHTS with the factor of `pressures`, and leakage at the standard pressure.

    Parameters: `nights` from `night_balance`; `pressures` from `zone_pressures` for the same
    cells, covering the nights; `law` by cell. The leakage of the day follows the factor.
    """
    cells = pd.Index(nights["cell_id"].unique(), dtype=object)
    on = pressures[days_of(pressures["day"]).isin(days_of(nights["night"]).unique())]
    if not len(nights):
        names = [f"standard_leakage_l_s{end}" for end in ENDS]
        return nights.assign(**dict.fromkeys(names, np.nan))
    leakage = wide_estimate(nights, "leakage_l_s", cells)
    factor = wide_estimate(on, "night_day_factor_h_d", cells)
    share = standard_share(
        pressure_limits(on, "night_pressure_m", cells),
        standard_m=settings.pressure.standard_m,
        law=law,
    )
    known = np.isfinite(leakage.value)
    columns = {
        "night_day_factor_h_d": Estimate(*(np.where(known, f, np.nan) for f in factor)),
        "leakage_m3_d": scaled(multiply_limits(leakage, factor), M3_PER_L_S_H),
        "standard_leakage_l_s": multiply_limits(leakage, share),
    }
    return nights.assign(**{name: part.T.ravel() for name, part in in_columns(columns).items()})


def standard_share(pressure: Estimate, *, standard_m: float, law: Law) -> Estimate:
    """Leakage at the standard pressure over that at `pressure` (m), limits by variance.

    From the law's equation (see `leakage_ratio`), carried through for each limit.
    """

    def share(metres: Array, exponent: Array) -> Array:
        return leakage_ratio(
            standard_m,
            reference_m=metres,
            exponent=exponent,
            form=law.form,
            head_m=law.head_m,
        )

    return by_law(share, pressure, law)


def by_law(share: Callable[[Array, Array], Array], pressure: Estimate, law: Law) -> Estimate:
    """`share` of pressure and exponent, with the limits of both by variance.

    Each limit is carried through the law itself, not through its slope: it is bent. NaN where
    there is no pressure.
    """
    usual = law.exponent.value
    low = np.maximum(pressure.low, LEAST_LEFT * pressure.value)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = share(pressure.value, usual)
        levels = [share(p, usual) for p in (low, pressure.high)]
        found = around(value, levels, [share(pressure.value, e) for e in law.exponent[1:]])
    there = pressure.value > 0
    return Estimate(*(np.where(there, x, np.nan) for x in found))


def pressure_limits(pressures: pd.DataFrame, name: str, cells: pd.Index[Any]) -> Estimate:
    """Column `name` of a table made by `zone_pressures` with its limits, days x cells."""
    value, spread = wide(pressures, name, cells), wide(pressures, "spread_m", cells)
    return Estimate(value, value - spread, value + spread)
