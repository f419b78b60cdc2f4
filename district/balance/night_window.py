"""The nights of the balance, and the hours of each: a fixed window, or each cell's lowest hour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import sparse

from district.balance.grids import among, positions, rows_of, span, text
from district.balance.lowest_hour import Picked, picked_lowest
from district.balance.meter_errors import errors_at
from district.balance.metering import Metering
from district.estimates import Array
from district.results import Reduced
from district.settings import Settings
from district.words import listed

GAPS_SHOWN = 10
"""Zones named with their count of gaps before the rest is only counted."""
PICKED = (
    "Night window: each zone's lowest rolling hour. Allowed use is less than its mean there, "
    "because the hour was picked as the lowest; by how much follows from the burst sizes allowed "
    "for and from how much the nights differ."
)


def nights_of(layout: Metering, reduced: Reduced) -> pd.DatetimeIndex:
    """Every night from the first to the last on which a zone meter tells its flow."""
    flows = reduced.night_flows
    at_edge = flows.iloc[rows_of(flows["device_id"], layout.meters)[0]]
    return span(at_edge.loc[at_edge["flow_l_s"].notna(), "night"])


def window_hours(flows: pd.DataFrame, nights: pd.DatetimeIndex, *, settings: Settings) -> Array:
    """Length of each night's window, hours: not the same where the clock changes."""
    at, hours = positions(flows["night"], nights), flows["window_h"].to_numpy(dtype=float)
    found = np.full(len(nights), np.nan)
    # Nearly all are as long as the first: only the others are held against one another.
    usual = (hours == hours[0]) & (at >= 0) if len(hours) else np.zeros(0, dtype=bool)
    found[at[usual]] = hours[:1]
    others = np.flatnonzero(~usual & (at >= 0))
    np.fmax.at(found, at[others], hours[others])
    rolling = settings.night.window == "rolling"
    set_h = 1.0 if rolling else settings.night.window_h()
    return np.where(np.isfinite(found) & (found > 0), found, set_h)


def at_lowest_hours(layout: Metering, reduced: Reduced) -> tuple[Metering, Reduced]:
    """The same equations over the lowest hours: each cell has its own, so a meter stands once a
    cell it bounds.

    A meter between two cells has another flow in the one's lowest hour than in the other's. In
    what is returned it is two meters, each of one cell, named by its position and its id; table
    NIGHT_FLOWS holds their flows and those of the users' meters over those hours, and
    DEVICE_QUALITY a row of each. A user meter that serves several cells counts in the first.
    """
    signs = layout.signs.tocoo()
    order = np.lexsort((signs.col, signs.row))
    cell, meter = signs.row[order], signs.col[order]
    pairs = pd.Index(
        [f"{c} {m}" for c, m in zip(cell, layout.meters[meter], strict=True)], dtype=object
    )
    number = np.arange(len(pairs))
    apart = replace(
        layout,
        apart=True,
        meters=pairs,
        signs=sparse.csr_array(
            (signs.data[order], (cell, number)), shape=(len(layout.cells), len(pairs))
        ),
        errors=errors_at(layout.errors, meter),
    )
    hours = reduced.lowest_hours
    at, device = among(hours["cell_id"], layout.cells), text(hours["device_id"])
    edge = among(hours["device_id"], layout.meters) >= 0
    first = layout.users.sort_values("cell").drop_duplicates("meter_id").set_index("meter_id")
    home = first["cell"].reindex(device).fillna(-1).to_numpy(dtype=np.int64)
    named = pd.Series(at, index=device.index).astype(str) + " " + device
    flows = hours.assign(device_id=device.where(~edge, named))[(at >= 0) & (edge | (home == at))]
    quality = reduced.quality.assign(device_id=text(reduced.quality["device_id"]))
    quality = quality.drop_duplicates("device_id").set_index("device_id", drop=False)
    of_pairs = quality.reindex(layout.meters[meter]).assign(device_id=pairs)
    quality = pd.concat([quality, of_pairs], ignore_index=True)
    return apart, replace(
        reduced, night_flows=flows.drop(columns="cell_id").reset_index(drop=True), quality=quality
    )


def steps_h(layout: Metering, quality: pd.DataFrame) -> Array:
    """The step by which each cell's lowest hour moves: the coarsest of its meters', an hour at
    most; a quarter of an hour where none is known."""
    known = quality.assign(device_id=text(quality["device_id"])).drop_duplicates("device_id")
    step = known.set_index("device_id")["step_h"].reindex(layout.meters).to_numpy(dtype=float)
    signs = layout.signs.tocoo()
    coarsest: npt.NDArray[np.float64] = np.zeros(len(layout.cells))
    np.maximum.at(coarsest, signs.row, np.nan_to_num(step)[signs.col])
    return np.where(coarsest > 0, np.minimum(coarsest, 1.0), 0.25)


def picked_hours(
    layout: Metering,
    quality: pd.DataFrame,
    *,
    settings: Settings,
    use_l_s: Array,
    use_deviation_l_s: Array,
    noise_deviation_l_s: Array,
    other_deviation_l_s: Array,
    seen_deviation_l_s: Array,
) -> Picked:
    """What being the lowest does to each cell's hour, as `picked_lowest` says; nights x cells.

    Mean use is the allowance from `settings.night.start` to `end`; `search_start` to
    `search_end` are searched.
    """
    night = settings.night
    least_h, most_h = (
        (end.hour - start.hour) + (end.minute - start.minute) / 60 - 1.0
        for start, end in ((night.start, night.end), (night.search_start, night.search_end))
    )
    return picked_lowest(
        use_l_s,
        use_deviation_l_s=use_deviation_l_s,
        noise_deviation_l_s=noise_deviation_l_s,
        other_deviation_l_s=other_deviation_l_s,
        seen_deviation_l_s=seen_deviation_l_s,
        step_h=steps_h(layout, quality),
        least_span_h=min(least_h, most_h),
        most_span_h=most_h,
    )


def gaps_said(flow_l_s: Array, layout: Metering, nights: pd.DatetimeIndex) -> list[str]:
    """How many nights of each cell are left empty; nothing where none is."""
    missing = np.isnan(flow_l_s).sum(axis=0)
    gaps = listed(
        (f"{c} ({int(n)})" for c, n in zip(layout.cells, missing, strict=True) if n),
        shown=GAPS_SHOWN,
    )
    said = f"Nights without a complete inflow are left empty: {gaps}, of {len(nights)}."
    return [said] if gaps else []
