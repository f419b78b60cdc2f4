"""Pressure left at those who stay fed: the network solved as it stands, and under the plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics import Drawn, Service, State, draw_model, solve
from district.hydraulics.expected import expected_use_l_s
from district.hydraulics.model import Flags, Reals
from district.isolate.plan import Plan
from district.isolate.users import kind_of_users
from district.network import Network
from district.schema.isolate_tables import PLAN_PRESSURES
from district.settings import Settings
from district.words import PRESSURE_CAUTION, percent

PEAK_INDEX = 2.0
"""Use at the hour of most use over the mean (common practice, no source: 1.5 to 3, the more the
fewer people there are)."""
ROUGHNESS_SPREAD_SHARE = 0.2
"""95 % limit of how far the Hazen-Williams C of all pipes together may be off where nothing was
measured (assumption). Head lost goes by flow over C, so that as much of the use counts alike."""


@dataclass(frozen=True, eq=False)
class PressureLeft:
    """Table PLAN_PRESSURES, and what it rests on, one sentence each; `caution` is shown with it."""

    table: pd.DataFrame
    assumed: tuple[str, ...]
    caution: str = PRESSURE_CAUTION


def pressure_left(
    network: Network,
    plan: Plan,
    *,
    settings: Settings,
    pressures: pd.DataFrame | None = None,
    peak_index: float = PEAK_INDEX,
) -> PressureLeft:
    """What the plan does to the pressure of connections that stay fed, the greatest fall first.

    Use is the mean allowed for, times `peak_index`, and falls where there is no pressure;
    leakage is not in it. `pressures`, table HOURLY_PRESSURES, as in `hydraulics.draw_model`.
    Limits hold for C off by `ROUGHNESS_SPREAD_SHARE` either way, and those of pressures for the
    level of the ground as well. Connections in doubt under the plan are judged too: the model
    takes a check or reducing valve to pass water the way it runs today, and `reached` tells
    whether any comes.

    Raises `StageError` where no model can be drawn (no source, or no head of one), and
    `UnsettledError` where the model finds no balance.
    """
    drawn = draw_model(network, settings=settings, pressures=pressures)
    dry = _dry_pipes(network, plan)
    use = peak_index * expected_use_l_s(network.connections, settings=settings)
    of_pipe = np.append(dry, False)
    pipe = network.pipes.index.get_indexer(network.connections["pipe_id"].astype(str))
    cut = of_pipe[pipe]
    before, after = [], []
    for share in (0.0, -ROUGHNESS_SPREAD_SHARE, ROUGHNESS_SPREAD_SHARE):
        now = _pressures(drawn, use, np.zeros(len(dry), dtype=bool), 1.0 + share)
        then = _pressures(drawn, np.where(cut, 0.0, use), dry, 1.0 + share)
        before.append(now)
        after.append(then)
    # Fed both now and, by the plan, then.
    shown = np.flatnonzero((pipe >= 0) & ~cut & np.isfinite(before[0]))
    was, then = (np.array(each)[:, shown] for each in (before, after))
    taps = network.connections.iloc[shown]
    table = pd.DataFrame(
        {
            "connection_id": taps.index.astype(str).to_numpy(dtype=object),
            "building_id": taps["building_id"].to_numpy(dtype=object),
            "kind": kind_of_users(taps),
            "properties": taps["properties"].to_numpy(),
            "reached": np.isfinite(then[0]),
            **_limits("before_m", was, drawn.level_spread_m),
            **_limits("after_m", then, drawn.level_spread_m),
            **_limits("change_m", then - was, 0.0),
        }
    )
    # Those whom no water reaches first, then by the fall.
    order = np.lexsort([table["change_m"].fillna(0.0), table["reached"]])
    return PressureLeft(
        table.iloc[order].reset_index(drop=True)[list(PLAN_PRESSURES.names())],
        (
            *drawn.assumed,
            f"Use at its hour of most is taken as {peak_index:g} times the mean that is allowed "
            "for; leakage is left out.",
            f"Limits hold for roughness off by {percent(ROUGHNESS_SPREAD_SHARE)} everywhere.",
        ),
    )


def _dry_pipes(network: Network, plan: Plan) -> Flags:
    """Pipes (P) that the plan leaves dry for sure."""
    kind = plan.areas.set_index("area_id")["kind"]
    sure = plan.pipes["area_id"].map(kind) != "doubtful"
    return np.asarray(network.pipes.index.isin(plan.pipes["pipe_id"][sure]), dtype=bool)


def _pressures(drawn: Drawn, use_l_s: Reals, shut: Flags, roughness_share: float) -> Reals:
    """Pressure (m) at each connection with the pipes `shut` (P); NaN where no water comes."""
    model = drawn.model
    is_open = model.is_open.copy()
    is_open[drawn.pipe_link[shut]] = False
    model = replace(model, is_open=is_open, roughness=model.roughness * roughness_share)
    state: State = solve(model, np.asarray(use_l_s @ drawn.tap), service=Service())
    pressure = state.head_m - model.elevation_m
    there = np.asarray(drawn.tap @ state.reached.astype(float))
    level = np.asarray(drawn.tap @ np.where(state.reached, pressure, 0.0))
    # Where one end of its pipe is without water, the other one's pressure counts.
    found = np.divide(level, there, out=np.full(len(level), np.nan), where=there > 0)
    return np.asarray(np.round(found, 6))  # The solver settles no finer.


def _limits(name: str, of_three: Reals, more: float) -> dict[str, Any]:
    return {
        name: of_three[0],
        f"{name}_low": of_three.min(axis=0) - more,
        f"{name}_high": of_three.max(axis=0) + more,
    }
