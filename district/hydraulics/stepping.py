"""Night flows of parts of a zone that valves cut off one after another, and how well they show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes
from district.network import Network
from district.settings import Settings
from district.words import missing

Z = 1.96
"""Standard deviations from a mean to its 95 % limits."""
READ_SHARE = 0.02
"""95 % limit of a flow read during the test, where none is stated."""
RISE_SHARE = 0.05
"""Each closure lowers the flow and the head lost, so that pressure and what still leaks rise in the
part left open, and later steps are under-stated: Thornton, Sturm & Kunkel 2008, p. 277. By up to
twice this share of the flow left; the figure is an assumption."""
SETTLE_S = 900.0
"""Steps are about a quarter of an hour apart (same source, figure 16.14)."""
LEAST_SD_L_S = 0.001
"""No meter is read finer, nor is a section's use known better. Assumption."""
BACKGROUND_SPREAD_SHARE = 0.5
"""Standard deviation of a section's background leakage, as a share of it. Assumption."""
APART_SHARE = 0.15
"""Standard deviation of how far the use and background leakage of a section, by its properties and
pipes, lie from those of its whole zone, as a share of them. Assumption."""
_SCALES = (0.2, 3.0)
"""What the use of a zone may be over its allowances and components; less than that is no use, but
a leak that is smaller by now, or water that comes another way. Assumption."""
_COUNTED = 1.0 - float(np.sqrt(0.05))
"""95 % limit of a volume between two readings, as a share of the meter's step: each reading stops
up to one whole step short, evenly so, and the difference of two such is a triangle about 0."""


@dataclass(frozen=True, eq=False)
class NightUse:
    """Night use and background leakage of K sections, L/s.

    use_l_s (K)
    known_sd_l_s (K)
        standard deviation of what is known of them; it is off the same way in all sections.
    drawn_sd_l_s (K)
        standard deviation by chance, as few draws fall into a quarter of an hour.
    """

    use_l_s: Reals
    known_sd_l_s: Reals
    drawn_sd_l_s: Reals

    def sd_l_s(self) -> Reals:
        """Standard deviation of both together (K)."""
        return np.asarray(np.hypot(self.known_sd_l_s, self.drawn_sd_l_s))


def section_use(network: Network, section: Any, count: int, *, settings: Settings) -> NightUse:
    """Night use and background leakage of each section.

    Parameters: `section` (P) from 0 to `count` - 1 by `network.pipes`, -1 for none, as a Series by
    pipe_id. Use is the allowance of its properties by class; it may be off by the spread of the
    allowance, and few draws fall into a quarter of an hour.
    """
    pipes, taps = network.pipes, network.connections
    number = section.reindex(pipes.index).fillna(-1).to_numpy(dtype=np.int64)
    own = section.reindex(taps["pipe_id"]).fillna(-1).to_numpy(dtype=np.int64)
    use, known, drawn = np.zeros(count), np.zeros(count), np.zeros(count)
    household = settings.allowances["household"]
    for use_class, rows in taps.assign(section=own).groupby("use_class"):
        allowance = settings.allowances.get(str(use_class), household)
        properties = np.bincount(
            np.maximum(rows["section"], 0), rows["properties"] * (rows["section"] >= 0), count
        )
        mean = properties * allowance.l_property_h / 3600
        use += mean
        known += (allowance.spread_share / Z * mean) ** 2
        drawn += mean * allowance.burst_l / SETTLE_S * (1 + (allowance.burst_spread_share / Z) ** 2)
    leaks = _background(pipes, number, own, count, settings)
    known += (BACKGROUND_SPREAD_SHARE * leaks) ** 2
    return NightUse(use + leaks, np.sqrt(known), np.sqrt(drawn))


def scaled(use: NightUse, *, rest_l_s: float, rest_limit_l_s: float) -> NightUse:
    """The use of all sections of a zone, brought to what its inflow leaves for it.

    Allowances and background by components are off the same way in all sections of a zone, so that
    its own inflow less the leak, `rest_l_s` (95 % limit either way `rest_limit_l_s`), tells by how
    much. It counts by how well it is known beside them; what is left to doubt is that factor, and
    how far single sections lie from it (`APART_SHARE`). Where it leaves next to nothing, use stays
    as it was expected.
    """
    total = float(use.use_l_s.sum())
    if total <= 0 or not rest_l_s >= _SCALES[0] * total:
        return use
    known = (float(use.known_sd_l_s.sum()) / total) ** 2
    chance = float((use.drawn_sd_l_s**2).sum())
    seen = ((rest_limit_l_s / Z) ** 2 + chance) / total**2 + APART_SHARE**2 / 4
    weight = known / max(known + seen, 1e-12)
    factor = 1.0 + weight * (min(rest_l_s / total, _SCALES[1]) - 1.0)
    factor_sd = np.sqrt(known * (1.0 - weight))
    return NightUse(
        factor * use.use_l_s,
        use.use_l_s * np.hypot(factor_sd, APART_SHARE * factor),
        use.drawn_sd_l_s * np.sqrt(factor),
    )


def _background(
    pipes: pd.DataFrame, number: Wholes, own: Wholes, count: int, settings: Settings
) -> Reals:
    background = settings.background
    here = number >= 0
    km = np.bincount(number[here], pipes["length_m"].to_numpy(dtype=float)[here], count) / 1000
    taps = np.bincount(own[own >= 0], minlength=count)
    return np.asarray(
        background.condition_factor
        / 3600
        * (background.mains_l_km_h * km + background.connection_l_connection_h * taps)
    )


def step_l(network: Network, cell_id: str) -> float:
    """The largest step in litres in which a meter into a zone counts: its pulse, or the resolution
    of its register; 0 where none of them states one.
    """
    bounds = network.boundaries
    into = bounds.loc[bounds["downstream_cell_id"] == cell_id, "meter_id"]
    meters = network.meters[network.meters.index.isin(into)]
    steps = [
        float(value)
        for column in ("litres_per_pulse", "resolution_l")
        if column in meters
        for value in meters[column]
        if not missing(value)
    ]
    return max(steps, default=0.0)


def read_limit_l_s(flow_l_s: Any, *, step_l: float, interval_s: Any) -> Reals:
    """95 % limit of a flow read over an interval, where none is stated with it.

    `READ_SHARE` of it, and the whole steps that a meter counts in: a pulse of 100 L over a quarter
    of an hour lets a flow be off by 0.78 of 100 L / 900 s, 0.086 L/s.

    >>> round(float(read_limit_l_s(0.0, step_l=100.0, interval_s=900.0)), 3)
    0.086
    """
    counted = _COUNTED * step_l / np.asarray(interval_s, dtype=float)
    return np.asarray(np.hypot(READ_SHARE * np.asarray(flow_l_s, dtype=float), counted))
