"""One reading file, long or wide: which device, when, what, and what in it cannot be used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.beside import OTHER_TIMES, needed_columns, value_and_beside
from district.intake.clock import Instants, read_times
from district.intake.grouped import by_row
from district.intake.headings import first_of, named_besides, nameless, repeated, shown
from district.intake.reading_columns import named_columns, no_column
from district.intake.tabular import numbers
from district.intake.writing import ALONE, Writing
from district.schema.inputs import READINGS
from district.settings import FILE
from district.settings import Readings as Kind
from district.words import id_text, plural

_LONG = (*READINGS.names(), *OTHER_TIMES)
_WORDS = {
    **dict.fromkeys(("true", "wet", "alarm", "yes", "nass", "ja"), 1.0),
    **dict.fromkeys(("false", "dry", "normal", "ok", "no", "trocken", "nein"), 0.0),
}
TIME = "a time as YYYY-MM-DD HH:MM"
"""What is expected of a time, in findings."""
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Read:
    """Readings of a file or of a piece of it, in its order; arrays of one length."""

    device: Array
    """Position of the device among those known."""
    time_us: Array
    """Microseconds since 1970, UTC; of a repeated hour the first round."""
    later_us: Array
    """How much later its second round is; 0 elsewhere."""
    value: Array
    """NaN only in a repeated hour, where a row without value helps to tell the rounds apart."""
    rate: Array
    """What stands beside it (see `beside`): a register's rate, say; NaN without."""
    row: Array
    """Row in the file."""
    time_column: str
    timed: bool
    """Whether any time could be read."""


def read_long(
    frame: pd.DataFrame,
    kind: Kind,
    zone: ZoneInfo,
    file: str,
    position: Mapping[str, int],
    wet: Array,
    findings: list[Finding],
    strangers: Counter[str],
    *,
    writing: Writing = ALONE,
) -> Read | None:
    """Rows of a file with a row a reading; None if there is nothing to use.

    `position` numbers the known devices, `wet` tells of each whether it may say wet or dry.
    What is wrong is added to `findings`, under the name `file`; how many readings there are of
    devices not known, to `strangers`. `writing` is what was found of the whole file where
    `frame` is a part of it.
    """
    names = named_columns(frame, kind, _LONG, file, findings)
    needed = needed_columns(names, kind.columns)
    missing = [c for c in needed if c not in names]
    findings += [no_column(c, frame, file) for c in missing if c not in kind.columns]
    if missing:
        return None
    findings += repeated(names.values(), list(frame.columns), file)
    codes, unique = pd.factorize(frame[names["device_id"]])
    ids = [id_text(u) for u in unique]
    known = np.array([position.get(i, -1) for i in ids] + [-1], dtype=np.int64)
    device = known[codes]
    counts = np.bincount(codes[codes >= 0], minlength=len(ids))
    for device_id, count in zip(ids, counts, strict=True):
        if device_id not in position:
            strangers[device_id] += int(count)
    nameless = frame.index.to_numpy()[codes < 0]
    findings += by_row(
        "warning",
        file,
        column=names["device_id"],
        rows=list(nameless),
        got=["nothing"] * len(nameless),
        expected="a meter_id or sensor_id",
        remedy="Fill it in",
    )
    here = device >= 0
    if not here.any():
        return None
    frame, device = frame[here], device[here]
    layout = writing.layouts.get(names["time"])
    instants = read_times(frame[names["time"]], zone=zone, layout=layout)
    _bad_times(frame, names["time"], instants, zone, file, findings)

    def numbers_of(name: str) -> Array:
        return _values(frame, names[name], wet[device], writing, file, findings)

    value, rate = value_and_beside(needed, names, numbers_of, frame, file, findings)
    return _usable(frame, device, instants, value, rate, names["time"])


def read_wide(
    frame: pd.DataFrame,
    kind: Kind,
    zone: ZoneInfo,
    file: str,
    position: Mapping[str, int],
    wet: Array,
    findings: list[Finding],
    strangers: Counter[str],
    *,
    writing: Writing = ALONE,
) -> Read | None:
    """Rows of a file with a column a device; parameters and result as of `read_long`."""
    names = named_columns(frame, kind, ("time",), file, findings)
    if "time" not in names:
        if "time" not in kind.columns:
            findings.append(no_column("time", frame, file))
        return None
    theirs = {header: ours for ours, header in names.items()}
    layout = writing.layouts.get(names["time"])
    instants = read_times(frame[names["time"]], zone=zone, layout=layout)
    _bad_times(frame, names["time"], instants, zone, file, findings)
    parts: list[Read] = []
    strange: dict[str, str] = {}
    headings = list(frame.columns)
    findings += repeated(headings, headings, file, position)
    for header in headings:
        device_id = theirs.get(header, header)
        if header == names["time"] or first_of(header, headings, position):
            continue
        if device_id not in position:
            strange[device_id] = header
            continue
        if names.get(device_id, header) != header:
            findings.append(named_besides(device_id, names[device_id], file, FILE))
            continue
        at = position[device_id]
        value = _values(frame, header, np.full(len(frame), wet[at]), writing, file, findings)
        device = np.full(len(frame), at)
        rate = np.full(len(frame), np.nan)
        parts.append(_usable(frame, device, instants, value, rate, names["time"]))
    if not parts and position:
        findings.append(
            Finding(
                "error",
                file,
                got=f"columns {', '.join(map(shown, list(strange)[:5])) or 'of time only'}",
                expected="a column a device, headed by its meter_id or sensor_id",
                remedy=f"Rename the columns, or name them in columns under [[readings]] in {FILE}",
            )
        )
    if not parts:
        return None
    findings += nameless(strange, file)
    for device_id, header in strange.items():
        if shown(device_id) == device_id:
            strangers[device_id] += int(frame[header].notna().sum())
    return joined(parts)


def joined(parts: list[Read]) -> Read:
    """Parts of one file as one; at least one."""
    arrays: dict[str, Any] = {
        f.name: np.concatenate([getattr(p, f.name) for p in parts])
        for f in fields(Read)
        if f.name not in ("time_column", "timed")
    }
    return Read(**arrays, time_column=parts[0].time_column, timed=any(p.timed for p in parts))


def _values(
    frame: pd.DataFrame,
    column: str,
    wet: Array,
    writing: Writing,
    file: str,
    findings: list[Finding],
) -> Array:
    raw = frame[column]
    value = numbers(
        raw,
        thousands=writing.thousands.get(column),
        points=writing.points.get(column),
    )
    odd = np.isnan(value) & raw.notna().to_numpy()
    if odd.any():
        texts = raw[odd].astype(str).str.strip()
        read = np.where(wet[odd], texts.str.lower().map(_WORDS).to_numpy(dtype=float), np.nan)
        value[odd] = read
        bad = texts[np.isnan(read) & (texts != "").to_numpy()]
        findings += by_row(
            "warning",
            file,
            column=column,
            rows=list(bad.index),
            got=[f'"{text}"' for text in bad],
            expected="a number",
            remedy="Correct the value or leave it empty; it is left out",
        )
    return value


def _bad_times(
    frame: pd.DataFrame,
    column: str,
    instants: Instants,
    zone: ZoneInfo,
    file: str,
    findings: list[Finding],
) -> None:
    raw = frame[column]
    for rows, expected, remedy in (
        (instants.unreadable, TIME, "Correct the time; the reading is left out"),
        (
            instants.skipped,
            f"a time that exists: the clocks of {zone.key} go forward past it",
            "Name the logger's own clock as timezone under [[readings]]; the reading is left out",
        ),
    ):
        bad = raw[rows]
        findings += by_row(
            "warning",
            file,
            column=column,
            rows=list(bad.index),
            got=["nothing" if pd.isna(v) else f'"{v}"' for v in bad],
            expected=expected,
            remedy=remedy,
        )


def _usable(
    frame: pd.DataFrame,
    device: Array,
    instants: Instants,
    value: Array,
    rate: Array,
    time_column: str,
) -> Read:
    timed = ~instants.utc.isna()
    good = timed & ((instants.later_us != 0) | ~np.isnan(value))
    return Read(
        device[good].astype(np.int32),
        instants.utc.asi8[good],
        instants.later_us[good],
        value[good],
        rate[good],
        frame.index.to_numpy()[good].astype(np.int32),
        time_column=time_column,
        timed=bool(timed.any()),
    )


def unknown(device_id: str, count: int, file: str) -> Finding:
    """What to say of a file's readings of a device that is on no layer."""
    return Finding(
        "warning",
        file,
        f"device {device_id}",
        got=f"{plural(count, 'reading')} of a device that is on no layer",
        expected="a meter_id of the meters or a sensor_id of the sensors",
        remedy="Correct the id, or add the device to its layer; its readings are left out",
    )
