"""The sections of a planned step test: what lies in each, and what its closure should show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from district.hydraulics.model import Reals, Wholes
from district.hydraulics.stepping import (
    LEAST_SD_L_S,
    READ_SHARE,
    RISE_SHARE,
    NightUse,
    Z,
    read_limit_l_s,
    scaled,
    section_use,
)
from district.isolate.step_cost import ranked
from district.network import Network
from district.schema.step_tables import STEP_PLAN_SECTIONS
from district.settings import Settings


@dataclass(frozen=True)
class Sought:
    """Flow of the leak looked for, with its 95 % limits, and the zone's inflow by night with it,
    NaN where that is not known."""

    flow_l_s: float
    flow_l_s_low: float
    flow_l_s_high: float
    night_flow_l_s: float = float("nan")

    def limit_l_s(self) -> float:
        """How far the flow may be off, either way."""
        return (self.flow_l_s_high - self.flow_l_s_low) / 2

    def beside(self, use: NightUse) -> NightUse:
        """The use of all sections of the zone, brought to its night flow without the leak."""
        limit = float(np.hypot(READ_SHARE * self.night_flow_l_s, self.limit_l_s()))
        return scaled(use, rest_l_s=self.night_flow_l_s - self.flow_l_s, rest_limit_l_s=limit)


def section_table(
    network: Network,
    section: Wholes,
    probability: Reals,
    valves: list[str],
    also_shut: list[str],
    dry_h: list[float],
    *,
    sought: Sought,
    counted_l: float,
    interval_s: float,
    settings: Settings,
) -> pd.DataFrame:
    """Table STEP_PLAN_SECTIONS.

    Parameters: `section` (P) by pipe, -1 outside the zone, and `probability` (P); `valves`,
    `also_shut` and `dry_h` (K) by section from 1 on.
    """
    count = len(valves) + 1
    pipes, taps = network.pipes, network.connections
    by_pipe = pd.Series(section, index=pipes.index)
    own = section >= 0
    metres = pipes["length_m"].to_numpy(dtype=float)
    length_m = np.bincount(section[own], metres[own], count)
    at = by_pipe.reindex(taps["pipe_id"]).fillna(-1).to_numpy(dtype=np.int64)
    held = taps["properties"].fillna(1).to_numpy(dtype=float)
    likely = np.bincount(section[own], np.nan_to_num(probability[own]), count)
    found = sought.beside(section_use(network, by_pipe, count, settings=settings))
    use, use_sd = found.use_l_s, found.sd_l_s()
    table = pd.DataFrame(
        {
            "section_id": [str(n) for n in range(count)],
            "valve_id": ["", *valves],
            "also_shut": ["", *also_shut],
            "pipes_count": np.bincount(section[own], minlength=count),
            "length_m": length_m,
            "length_share": length_m / length_m.sum(),
            "connections_count": np.bincount(at[at >= 0], minlength=count),
            "properties_count": np.bincount(at[at >= 0], held[at >= 0], count)
            .round()
            .astype("int64"),
            "dry_h": [np.nan, *dry_h],
            "probability_share": likely / max(likely.sum(), 1e-12),
            **_limits("use_l_s", use, Z * use_sd, least=0.0),
        }
    )
    walks = [walk_of(probability, metres, np.where(section == n, 0, -1)) for n in range(count)]
    table[["walk_m", "walk_m_low", "walk_m_high"]] = np.array(walks)
    order = [*range(1, count), 0]
    table = _with_drops(table.iloc[order], use[order], use_sd[order], sought, counted_l, interval_s)
    return table.reset_index(drop=True)[list(STEP_PLAN_SECTIONS.names())]


def _with_drops(
    table: pd.DataFrame,
    use: Reals,
    use_sd: Reals,
    sought: Sought,
    counted_l: float,
    interval_s: float,
) -> pd.DataFrame:
    """Falls to expect, sections in the order they are shut; the last is what stays open."""
    start = use.sum() + sought.flow_l_s
    after = np.maximum(start - np.cumsum(use), 0.0)
    before = after + use
    # The flow that is left at the end is one reading, every fall the difference of two.
    after_read = np.where(np.arange(len(use)) < len(use) - 1, after, np.nan)
    reads = [read_limit_l_s(f, step_l=counted_l, interval_s=interval_s) for f in (before, after)]
    read = np.where(np.isnan(after_read), reads[0], np.hypot(*reads))
    rise = np.where(np.isnan(after_read), 0.0, RISE_SHARE * after)
    sd = np.sqrt((read / Z) ** 2 + use_sd**2 + LEAST_SD_L_S**2)
    with_leak = _limits(
        "drop_with_l_s", use + sought.flow_l_s, np.hypot(Z * sd, sought.limit_l_s())
    )
    without = _limits("drop_without_l_s", use - rise, Z * np.hypot(sd, rise / 2))
    wrong = ndtr(-sought.flow_l_s / (2 * np.hypot(sd, rise / 2)))
    shows = with_leak["drop_with_l_s_low"] > without["drop_without_l_s_high"]
    return table.assign(**with_leak, **without, wrong_share=wrong, shows=shows)


def _limits(name: str, value: Reals, half: Reals, *, least: float = -np.inf) -> dict[str, Reals]:
    return {
        name: value,
        f"{name}_low": np.maximum(value - half, least),
        f"{name}_high": value + half,
    }


def walk_of(likely: Reals, metres: Reals, section: Wholes) -> tuple[float, float, float]:
    """Expected metres of listening before a leak is reached, and between which they lie in 95 % of
    cases, where each section (-1: none) is walked by itself, its likeliest pipe first."""
    ends, shares = [], []
    for number in np.unique(section[section >= 0]):
        own = section == number
        order, before = ranked(likely[own], metres[own])
        shares.append(likely[own][order])
        ends.append(np.column_stack([before, before + metres[own][order]]))
    share, reach = np.concatenate(shares), np.concatenate(ends)
    if not share.sum():
        return 0.0, 0.0, 0.0
    # Along a pipe the leak is anywhere alike: a walk lies between the pipe's begin and its end.
    share = share / share.sum()
    grid = np.linspace(0.0, reach.max(), 400)
    below = np.clip((grid[:, None] - reach[:, 0]) / np.maximum(np.ptp(reach, axis=1), 1e-9), 0, 1)
    low, high = np.interp([0.025, 0.975], below @ share, grid)
    return float(share @ reach.mean(axis=1)), float(low), float(high)
