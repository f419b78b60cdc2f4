"""Tanks inside zones: what they store is a flow out of the zone, what they give a flow into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import days_of, text
from district.balance.limits import Z_95
from district.network import Network
from district.results import Reduced
from district.schema.columns import empty
from district.schema.stored import TANK_CHANGES
from district.words import listed, percent

SURFACE_SHARE = 0.05
"""95 % limit of a tank's plan area, as drawings give it and walls slope (common practice, no
source)."""
LEVEL_M = 0.01
"""95 % limit of one reading of a level, beside its smallest step; what is off by the same at both
ends of a night cancels (common practice, no source)."""


def tanks(network: Network) -> pd.DataFrame:
    """The tanks whose level is read: cell_id and surface_m2 by sensor_id, sorted."""
    sensors = network.sensors
    if "surface_m2" not in sensors:
        return pd.DataFrame({"cell_id": pd.Series(dtype=object), "surface_m2": []})
    table = pd.DataFrame(
        {
            "cell_id": text(sensors["cell_id"]).to_numpy(),
            "surface_m2": sensors["surface_m2"].to_numpy(dtype=float),
        },
        index=pd.Index([str(s) for s in sensors.index], dtype=object),
    )
    is_tank = (sensors["kind"] == "tank_level").to_numpy(dtype=bool)
    return table[is_tank & (table["cell_id"] != "") & table["surface_m2"].notna()].sort_index()


def tank_edges(network: Network, cells: pd.Index[Any]) -> pd.DataFrame:
    """The tanks of `cells` as meters at their edges: meter_id, upstream, downstream, error_percent.

    Positive flow leaves the cell for the tank. The error of its surface is one of the same share
    of the rise, whatever the rise.
    """
    found = tanks(network)
    found = found[found["cell_id"].isin(set(cells))]
    return pd.DataFrame(
        {
            "meter_id": found.index.to_numpy(),
            "upstream": found["cell_id"].to_numpy(),
            "downstream": "",
            "error_percent": SURFACE_SHARE * 100.0,
        }
    )


def with_storage(network: Network, reduced: Reduced) -> Reduced:
    """The readings with each tank's rise among the night flows and daily volumes of its sensor.

    A rise is empty where the level at one end is not known. The lowest rolling hour of a cell
    with a tank is taken out: meters alone do not tell it. The smallest step of a level takes up
    the error of its two readings. `reduced` is not written to; given twice, it stays the same.
    """
    found = tanks(network)
    if found.empty:
        return reduced
    edges = set(text(network.boundaries["meter_id"]))
    changes = reduced.tank_changes
    changes = changes[changes["device_id"].isin(set(found.index))]
    surface_m2 = changes["device_id"].map(found["surface_m2"]).astype(float)
    rise_m3 = (changes["end_m"] - changes["start_m"]).astype(float) * surface_m2
    rows = changes[["device_id", "date", "window_h"]].assign(
        volume_m3=rise_m3,
        gross_m3=rise_m3.abs(),
        flow_l_s=rise_m3 / 3.6 / changes["window_h"].astype(float),
        coverage_share=1.0,
        spread_share=0.0,
    )
    rows["gross_l_s"] = rows["flow_l_s"].abs()
    night = (changes["period"] == "night").to_numpy(dtype=bool)
    minima = reduced.night_minima
    return replace(
        reduced,
        quality=_with_level_error(reduced.quality, found),
        night_flows=_joined(reduced.night_flows, rows[night], "night", "flow_l_s", edges),
        daily_volumes=_joined(reduced.daily_volumes, rows[~night], "day", "volume_m3", edges),
        night_minima=minima[~minima["cell_id"].isin(set(found["cell_id"]))],
        tank_changes=empty(TANK_CHANGES),
    )


def storage_said(network: Network, cells: pd.Index[Any]) -> tuple[list[str], list[str]]:
    """What the figures of zones with tanks assume, and what limits them."""
    found = tanks(network)
    found = found[found["cell_id"].isin(set(cells))]
    if found.empty:
        return [], []
    zones = listed(sorted(set(found["cell_id"])))
    return (
        [
            f"Water that rose in tanks ({listed(found.index)}) is taken off the inflow of {zones}, "
            "water that sank is added: level times surface, the surface "
            f"±{percent(SURFACE_SHARE)}, each level ±{LEVEL_M * 100:g} cm and its smallest step. "
            "A night or day without readings of the level near both its ends is left empty."
        ],
        [
            f"No lowest rolling hour for {zones}: it would need the water stored within each hour; "
            "the night window is used."
        ],
    )


def _joined(
    table: pd.DataFrame, rows: pd.DataFrame, day: str, value: str, edges: Sequence[str] | set[str]
) -> pd.DataFrame:
    """Tanks' rows put beside those of meters, on the dates of which a zone meter is known."""
    known = table[table[value].notna() & table["device_id"].isin(edges)]
    own = rows.rename(columns={"date": day})
    own = own[days_of(own[day]).isin(days_of(known[day])) & own[value].notna().to_numpy()]
    if own.empty:
        return table
    return pd.concat([table, own.reindex(columns=[*table.columns])], ignore_index=True)


def _with_level_error(quality: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    steps = quality.drop_duplicates("device_id").set_index("device_id")["resolution_m3"]
    step_m3 = steps.reindex(found.index).astype(float).fillna(0.0).to_numpy()
    # A difference of two readings has variance step²/6: twice that of one reading's error.
    level_m3 = np.sqrt(12.0) * LEVEL_M / Z_95 * found["surface_m2"].to_numpy()
    rest = quality[~quality["device_id"].isin(set(found.index))]
    own = quality[quality["device_id"].isin(set(found.index))].set_index("device_id")
    own = own.reindex(found.index).rename_axis("device_id").reset_index()
    own = own.assign(kind="tank_level", resolution_m3=np.hypot(step_m3, level_m3))
    return own if rest.empty else pd.concat([rest, own], ignore_index=True)
