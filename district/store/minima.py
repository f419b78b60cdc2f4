"""The lowest rolling hour of each cell's net inflow by night."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import time
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.stored import INTERVALS, NIGHT_MINIMA
from district.store.database import Connection, as_declared, instants, put, span_us
from district.store.rolling import bins_count, empty_bins, lay, lowest_of
from district.store.volumes import HOURLY_US, WHOLE
from district.store.windows import HOUR_US, by_hour, local_dates, night_windows

_STEPS_MINUTES = np.array([1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60])
_BINS_AT_ONCE = 16_000_000
_ROWS_AT_ONCE = 500_000
_NIGHT_ROWS = f"""
    SELECT s.side, w.number AS night, i.start_us - w.start_us AS start_us,
        i.end_us - w.start_us AS end_us, i.volume_m3
    FROM intervals i
    JOIN search_windows w ON w.hour = i.start_us // {HOUR_US}
        AND i.start_us < w.end_us AND i.end_us > w.start_us
    JOIN sides s ON s.meter_id = i.device_id
    WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US} AND i.volume_m3 IS NOT NULL
"""


def night_minima(
    connection: Connection,
    quality: pd.DataFrame,
    boundaries: pd.DataFrame,
    *,
    start: time,
    end: time,
    zone: ZoneInfo,
    dates: pd.DatetimeIndex | None = None,
) -> pd.DataFrame:
    """Table NIGHT_MINIMA: lowest hour of net inflow from `start` to `end`, local time.

    Of local `dates`, all if not said.

    `boundaries` has meter_id, upstream_cell_id, downstream_cell_id ('' for none); flow counts for
    the cell downstream and against the one upstream. The hour rolls by the coarsest step of the
    cell's meters. A night on which one of them lacks a reading, or reads less often than hourly,
    has no row.
    """
    span = span_us(connection, INTERVALS)
    edges = edges_by_step(quality, boundaries)
    if span is None or edges.empty:
        return empty(NIGHT_MINIMA)
    dates = local_dates(*span, zone) if dates is None else dates
    windows = night_windows(dates, start, end, zone)
    if windows.empty:
        return empty(NIGHT_MINIMA)
    found = [
        _lowest(connection, some.reset_index(drop=True), windows)
        for some in _portions(edges, (windows["end_us"] - windows["start_us"]).to_numpy())
    ]
    table = pd.concat(found, ignore_index=True)
    return as_declared(table.assign(start_utc=instants(table["start_us"])), NIGHT_MINIMA)


def edges_by_step(quality: pd.DataFrame, boundaries: pd.DataFrame) -> pd.DataFrame:
    """The meters around the cells that have a lowest hour: as `sides`, with their cell's step_us.

    In order of step; all that the lowest hours depend on beside readings and windows.
    """
    edges = _with_steps(sides(boundaries), quality)
    coarsest = edges.groupby("cell_id")["step_us"].transform("max")
    edges = edges.assign(step_us=coarsest)[coarsest <= HOUR_US]
    return edges.astype({"step_us": np.int64}).sort_values(["step_us", "cell_id", "meter_id"])


def _portions(edges: pd.DataFrame, lengths_us: Any) -> list[pd.DataFrame]:
    """The sides of as many cells at once as memory should hold bins for."""
    counts = pd.Series(bins_count(edges["step_us"].to_numpy(), lengths_us), index=edges.index)
    of_cell = counts.groupby(edges["cell_id"], sort=False).sum()
    portion = dict(zip(of_cell.index, of_cell.cumsum() // _BINS_AT_ONCE, strict=True))
    return [part for _, part in edges.groupby(edges["cell_id"].map(portion))]


def _lowest(connection: Connection, edges: pd.DataFrame, windows: pd.DataFrame) -> pd.DataFrame:
    """cell_id, night, minimum_night_flow_l_s and start_us of cells, `edges` in order of step."""
    starts = windows["start_us"].to_numpy()
    bins = empty_bins(edges["step_us"].to_numpy(), windows["end_us"].to_numpy() - starts)
    for side, night, start, end, volume in night_rows(connection, edges["meter_id"], windows):
        lay(bins, side=side, night=night, start=start, end=end, volume=volume)
    found = []
    for _, same in edges.groupby("step_us"):
        of_step = slice(int(same.index[0]), int(same.index[-1]) + 1)
        firsts = np.flatnonzero(~same["cell_id"].duplicated())
        cell, night, hour_m3, since_us = lowest_of(
            bins, of_step, signs=same["sign"].to_numpy(), firsts=firsts, whole_share=WHOLE
        )
        found.append(
            pd.DataFrame(
                {
                    "cell_id": same["cell_id"].to_numpy()[firsts[cell]],
                    "night": windows["night"].to_numpy()[night],
                    "minimum_night_flow_l_s": hour_m3 / 3.6,
                    "start_us": starts[night] + since_us,
                }
            )
        )
    return pd.concat(found, ignore_index=True)


def night_rows(
    connection: Connection, meters: pd.Series[Any], windows: pd.DataFrame
) -> Iterator[tuple[Any, ...]]:
    """Sound intervals of an hour at most that touch the windows, in batches of five arrays.

    Position among `meters` (a meter may stand there twice), position among `windows` (start_us,
    end_us), start and end since the window's start in microseconds, volume in m³.
    """
    numbered = windows[["start_us", "end_us"]].assign(number=np.arange(len(windows)))
    put(connection, "search_windows", by_hour(numbered, longest_us=HOURLY_US))
    put(connection, "sides", pd.DataFrame({"meter_id": meters, "side": np.arange(len(meters))}))
    for rows in connection.sql(_NIGHT_ROWS).to_arrow_reader(_ROWS_AT_ONCE):
        yield tuple(column.to_numpy() for column in rows.columns)


def sides(boundaries: pd.DataFrame) -> pd.DataFrame:
    """One row a meter and cell it bounds: meter_id, cell_id, sign of its flow there.

    A meter with the same cell on both sides tells nothing of its inflow and has no row.
    """
    outer = boundaries[boundaries["downstream_cell_id"] != boundaries["upstream_cell_id"]]
    parts = [
        outer[["meter_id", side]].rename(columns={side: "cell_id"}).assign(sign=sign)
        for side, sign in (("downstream_cell_id", 1.0), ("upstream_cell_id", -1.0))
    ]
    both = pd.concat(parts, ignore_index=True)
    return both[both["cell_id"].notna() & (both["cell_id"] != "")]


def _with_steps(sides: pd.DataFrame, quality: pd.DataFrame) -> pd.DataFrame:
    """With the step each meter can be cut to.

    A step that does not divide the hour is taken up to the next that does; a meter that was
    never read has an endless one.
    """
    minutes = sides["meter_id"].map(quality.set_index("device_id")["step_h"]).astype(float) * 60
    at = np.searchsorted(_STEPS_MINUTES, minutes.round(3))
    steps = np.append(_STEPS_MINUTES * 60e6, np.inf)[np.minimum(at, len(_STEPS_MINUTES))]
    return sides.assign(step_us=np.where(minutes.isna(), np.inf, steps))
