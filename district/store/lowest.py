"""Flow of each cell's meters over the cell's lowest rolling hour."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.stored import LOWEST_HOURS
from district.store.database import Connection, as_declared
from district.store.minima import night_rows, sides
from district.store.volumes import WHOLE
from district.store.windows import HOUR_US

_NEVER = np.int64(2**62)
"""The start of an hour that is not: later than any reading."""


def lowest_hours(
    connection: Connection,
    minima: pd.DataFrame,
    boundaries: pd.DataFrame,
    users: pd.DataFrame | None,
) -> pd.DataFrame:
    """Table LOWEST_HOURS: the lowest hour of each row of table NIGHT_MINIMA, meter by meter.

    `boundaries` as in `Network`; `users` has device_id and cell_id, a meter in each cell where it
    serves someone. Flow is by the meter's own direction; beside it stands what
    passed either way. Both are empty where less than 99 % of the
    hour was read in intervals of an hour at most; a night of which a meter has nothing has no row.
    """
    at_edge = sides(boundaries).rename(columns={"meter_id": "device_id"})
    parts = [at_edge] if users is None else [at_edge, users]
    devices = pd.concat([p[["device_id", "cell_id"]] for p in parts]).drop_duplicates()
    if minima.empty or devices.empty:
        return empty(LOWEST_HOURS)
    cells, nights = (pd.Index(minima[key].unique()) for key in ("cell_id", "night"))
    devices = devices[devices["cell_id"].isin(cells)]
    starts = np.full((len(cells), len(nights)), _NEVER)
    of_cell, of_night = (
        index.get_indexer(minima[key]) for index, key in ((cells, "cell_id"), (nights, "night"))
    )
    starts[of_cell, of_night] = pd.DatetimeIndex(minima["start_utc"]).as_unit("us").asi8
    first = starts.min(axis=0)
    windows = pd.DataFrame(
        {"start_us": first, "end_us": np.where(starts == _NEVER, 0, starts).max(axis=0) + HOUR_US}
    )
    since = (starts - first)[cells.get_indexer(devices["cell_id"])]
    covered_us, net_m3, gross_m3 = (np.zeros(since.shape) for _ in range(3))
    for device, night, start, end, volume in night_rows(connection, devices["device_id"], windows):
        begin = since[device, night]
        overlap = np.minimum(end, begin + HOUR_US) - np.maximum(start, begin)
        within = overlap > 0
        at = device[within], night[within]
        part_m3 = (volume * overlap / (end - start))[within]
        np.add.at(covered_us, at, overlap[within])
        np.add.at(net_m3, at, part_m3)
        np.add.at(gross_m3, at, abs(part_m3))
    device, night = np.nonzero(covered_us)
    covered = covered_us[device, night]
    whole_s = np.where(covered >= WHOLE * HOUR_US, covered / 1e6, np.nan)
    table = devices.iloc[device].assign(
        night=nights[night],
        flow_l_s=net_m3[device, night] * 1000 / whole_s,
        gross_l_s=gross_m3[device, night] * 1000 / whole_s,
        window_h=1.0,
        coverage_share=covered / HOUR_US,
    )
    return as_declared(table, LOWEST_HOURS)
