"""A folder's readings all in memory, without a store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.intake.cleaned import joined
from district.intake.devices import read_devices
from district.intake.lanes import LOADED, Lanes, lanes_of, thirds_needed
from district.intake.parse import ReadingFile, parse, reading_list
from district.intake.readings import More, all_findings, clean, clean_third
from district.intake.spans import window_of
from district.intake.together import put_together
from district.results import FileRead, Inputs, Readings
from district.schema.columns import empty
from district.schema.stored import INTERVALS, RAW, SAMPLES
from district.schema.thirds import counted, third_start_us
from district.settings import Settings

Array = np.ndarray[Any, Any]


def read_readings(folder: Path, settings: Settings, inputs: Inputs) -> Readings:
    """Every reading file of the folder as intervals, samples and the quality of each device.

    All in memory and without a store: for a small folder. `inputs` describes the devices. Times
    become UTC, units ours; registers become volumes, through rollover and replacement; what
    cannot be is flagged. Never raises for what is wrong in a file: all of it is in `findings`.
    Rows are in order of device and time.
    """
    devices, findings = read_devices(inputs, timezone=settings.district.timezone)
    files, found = reading_list(folder, settings)
    parts = [empty(RAW).assign(file=0)]
    read: list[FileRead] = []
    for n, file in enumerate(files):
        pieces: list[pd.DataFrame] = []
        read.append(parse(file, devices, pieces.append))
        files[n] = replace(file, units=read[-1].units)
        parts += [piece.assign(file=n) for piece in pieces]
    raw = pd.concat(parts[1:] or parts, ignore_index=True)
    lanes = lanes_of(_presence(raw), drifting=_drifting(raw, files))
    seldom = _of(raw, lanes.presence.loc[lanes.seldom, "device_id"])
    cleaned = [clean(raw[seldom], files, devices)]
    for third, rows in _by_third(raw[~seldom], lanes):
        more = _more(rows)
        cleaned.append(clean_third(rows, files, devices, third, lanes, more))
    intervals, samples = (
        pd.concat([getattr(c, name) for c in cleaned], ignore_index=True).sort_values(
            list(table.key), ignore_index=True, kind="stable"
        )
        for name, table in (("intervals", INTERVALS), ("samples", SAMPLES))
    )
    quality, of_devices = put_together(
        pd.concat([c.spells for c in cleaned], ignore_index=True),
        pd.concat([c.days for c in cleaned], ignore_index=True),
        joined([c.told for c in cleaned]),
        devices,
        lambda ids: intervals[intervals["device_id"].isin(ids)],
    )
    told = [*findings, *found, *(f for r in read for f in r.findings), *of_devices]
    return Readings(intervals, samples, quality, all_findings(told, quality, devices, inputs))


def _presence(raw: pd.DataFrame) -> pd.DataFrame:
    """Table PRESENCE of rows of table RAW."""
    early, late = _times(raw)
    ids = pd.Categorical(raw["device_id"].astype(str))
    device, bins, counts, first, last, _ = counted(ids.codes.astype(np.int64), early, late)
    return pd.DataFrame(
        {
            "device_id": pd.Categorical.from_codes(device, ids.categories),
            "bin": bins,
            "rows_count": counts,
            "first_us": first,
            "last_us": last,
        }
    )


def _times(raw: pd.DataFrame) -> tuple[Array, Array]:
    early = pd.DatetimeIndex(raw["time_utc"]).as_unit("us").asi8
    return early, early + raw["later_s"].to_numpy(dtype=np.int64) * 1_000_000


def _drifting(raw: pd.DataFrame, files: Sequence[ReadingFile]) -> list[str]:
    """Devices of which a file's clock gains."""
    gains = [n for n, file in enumerate(files) if file.kind.clock_gain_s_d]
    return list(raw.loc[raw["file"].isin(gains), "device_id"].astype(str).unique())


def _of(raw: pd.DataFrame, ids: pd.Series[Any]) -> Array:
    return np.asarray(raw["device_id"].astype(str).isin(ids.astype(str).unique()))


def _more(rows: pd.DataFrame) -> More:
    return lambda ids: rows[rows["device_id"].isin(ids)]


def _by_third(raw: pd.DataFrame, lanes: Lanes) -> Iterator[tuple[int, pd.DataFrame]]:
    """Each third with readings, and all rows that it may need."""
    early, late = _times(raw)
    for third, of in thirds_needed(lanes).groupby("third"):
        third = int(third)
        since = min(int(t) for t in [third, *of.loc[of["earlier"] >= 0, "earlier"]]) - LOADED
        here = (late >= third_start_us(since)) & (early < window_of(third).to_us)
        yield third, raw[here & _of(raw, of["device_id"])]
