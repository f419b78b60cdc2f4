"""Tanks inside zones: what they store is a flow out of the zone, what they give a flow into it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import days_of
from district.estimates import Z_95
from district.network import Network, tanks_of
from district.results import Reduced
from district.words import listed, percent

SURFACE_SHARE = 0.05
"""95 % limit of a tank's plan area, as drawings give it and walls slope (common practice, no
source)."""
LEVEL_M = 0.01
"""95 % limit of one reading of a level, beside its smallest step; what is off by the same at both
ends of a night cancels (common practice, no source)."""


def tank_edges(network: Network, cells: pd.Index[Any]) -> pd.DataFrame:
    """The tanks of `cells` as meters at their edges: meter_id, upstream, downstream, error_percent.

    Positive flow leaves the cell for the tank. The error of its surface is one of the same share
    of the rise, whatever the rise.
    """
    found = tanks_of(network)
    found = found[found["cell_id"].isin(set(cells))]
    return pd.DataFrame(
        {
            "meter_id": found.index.to_numpy(),
            "upstream": found["cell_id"].to_numpy(),
            "downstream": "",
            "error_percent": SURFACE_SHARE * 100.0,
        }
    )


def with_storage(network: Network, reduced: Reduced, *, rolling: bool = False) -> Reduced:
    """The readings with those of tanks ready to be balanced as flows of meters.

    Their error is that of the rise from the start of a window to its end, not of every rise and
    fall between; the smallest step of a level takes up the error of its two readings. Dates that
    tanks alone know are left out. Unless the night window rolls, so that meters and tanks are
    summed over the lowest hour itself, that hour's flow is left out where there is a tank: what
    ran into the tank then, and so its error, is not known. `reduced` is not written to.
    """
    found = tanks_of(network)
    if found.empty:
        return reduced
    minima = reduced.night_minima
    if not rolling:
        minima = minima[~minima["cell_id"].isin(set(found["cell_id"]))]
    edges = set(network.boundaries["meter_id"].astype(str))
    return replace(
        reduced,
        quality=_with_level_error(reduced.quality, found),
        night_flows=_net(reduced.night_flows, "night", "flow_l_s", "gross_l_s", found, edges),
        daily_volumes=_net(reduced.daily_volumes, "day", "volume_m3", "gross_m3", found, edges),
        lowest_hours=_net(reduced.lowest_hours, "night", "flow_l_s", "gross_l_s", found, edges),
        night_minima=minima,
    )


def storage_said(
    network: Network, cells: pd.Index[Any], *, rolling: bool = False
) -> tuple[list[str], list[str]]:
    """What the figures of zones with tanks assume, and what limits them."""
    found = tanks_of(network)
    found = found[found["cell_id"].isin(set(cells))]
    if found.empty:
        return [], []
    zones = listed(sorted(set(found["cell_id"])))
    said = (
        f"Water that rose in tanks ({listed(found.index)}) is taken off the inflow of {zones}, "
        f"water that sank is added: level times surface, the surface ±{percent(SURFACE_SHARE)}, "
        f"each level ±{LEVEL_M * 100:g} cm and its smallest step."
    )
    hourless = (
        f"No lowest rolling hour for {zones}: what a tank stored in that hour is not known well "
        'enough; set the night window to "rolling" to balance over it.'
    )
    return [said], [] if rolling else [hourless]


def _net(
    table: pd.DataFrame, day: str, net: str, gross: str, found: pd.DataFrame, edges: set[str]
) -> pd.DataFrame:
    if table.empty:
        return table
    ids = table["device_id"].astype(str)
    is_tank = ids.isin(set(found.index)).to_numpy(dtype=bool)
    known = table.loc[(ids.isin(edges) & table[net].notna()).to_numpy(dtype=bool), day]
    with_meters = days_of(table[day]).isin(days_of(known))
    either_way = table[gross].astype(float) if gross in table else table[net].abs()
    return table.assign(**{gross: either_way.where(~is_tank, table[net].abs())})[
        ~is_tank | with_meters
    ]


def _with_level_error(quality: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    surface_m2 = quality["device_id"].astype(str).map(found["surface_m2"]).astype(float)
    # A difference of two readings has variance step²/6: twice that of one reading's error.
    level_m3 = np.sqrt(12.0) * LEVEL_M / Z_95 * surface_m2
    steps_m3 = quality["resolution_m3"].astype(float)
    both = np.hypot(steps_m3.fillna(0.0), level_m3.fillna(0.0))
    return quality.assign(resolution_m3=steps_m3.where(surface_m2.isna(), both))
