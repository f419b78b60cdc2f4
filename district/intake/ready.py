"""A piece of a reading file with one column of times, and headings without their units."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import pandas as pd

from district.errors import Finding
from district.intake.beside import needed_columns
from district.intake.heading_units import split_unit
from district.intake.joined_times import are_times_of_day, joined
from district.intake.reading_columns import lacking
from district.intake.table_shape import Shape
from district.intake.writing import ALONE, Writing
from district.settings import FILE
from district.settings import Readings as Kind

_PAIR = ("date", "time_of_day")
_LONG = ("device_id", "time", "value", "rate")


@dataclass(frozen=True, eq=False)
class Ready:
    """What the readers of the two layouts take."""

    frame: pd.DataFrame
    kind: Kind
    writing: Writing
    units: tuple[tuple[str, str, str, str], ...]
    """'value' or 'rate', device ('' for all of a long file), unit, the heading that tells it."""


def ready(
    frame: pd.DataFrame,
    kind: Kind,
    *,
    shape: Shape,
    writing: Writing = ALONE,
    ids: Collection[str],
    source: str,
    findings: list[Finding],
) -> Ready | None:
    """The frame with its two columns of date and time of day as one, and its units told.

    Two columns are joined where the settings name them `date` and `time_of_day`, or where they
    are headed 'date' and 'time' and the latter holds no dates. A heading that is ours, a device's
    or one the settings name loses the unit written beside it. `ids` are the known devices,
    `source` is the file's name for `findings`. None where a column that the settings name is not
    there.
    """
    pair = _two_columns(frame, kind, source, findings)
    if pair is None:
        return None
    if pair:
        frame, kind, writing = _join(frame, kind, writing, *pair)
    bare = _bare(frame, kind, ids)
    units: list[tuple[str, str, str, str]] = []
    for of, device, heading in _wanted(frame.rename(columns=bare), kind, ids):
        theirs = next((old for old, new in bare.items() if new == heading), heading)
        unit = shape.units.get(theirs) or split_unit(theirs)[1]
        if unit:
            units.append((of, device, unit, theirs))
    if bare:
        frame = frame.rename(columns=bare)
        thousands = {bare.get(c, c): t for c, t in writing.thousands.items()}
        points = {bare.get(c, c): p for c, p in writing.points.items()}
        writing = replace(writing, thousands=thousands, points=points)
    return Ready(frame, kind, writing, tuple(units))


def _two_columns(
    frame: pd.DataFrame, kind: Kind, source: str, findings: list[Finding]
) -> tuple[str, str] | tuple[()] | None:
    """The columns of dates and of times of day; () where there is one column of times."""
    present = {str(c).lower(): str(c) for c in reversed(list(frame.columns))}
    said = {ours: kind.columns[ours] for ours in _PAIR if ours in kind.columns}
    clock = present.get("time_of_day") or present.get("time")
    if not said:
        plainly = "time" not in kind.columns and "date" in present and clock is not None
        if plainly and clock is not None and are_times_of_day(frame[clock]):
            return present["date"], clock
        return ()
    found = {"date": present.get("date"), "time_of_day": clock} | said
    wrong = len(findings)
    if "time" in kind.columns:
        findings.append(_both(kind))
    for ours, theirs in found.items():
        if theirs not in frame.columns:
            findings.append(_no_half(frame, ours, said.get(ours, ""), source))
    if len(findings) > wrong:
        return None
    return str(found["date"]), str(found["time_of_day"])


def _join(
    frame: pd.DataFrame, kind: Kind, writing: Writing, date: str, clock: str
) -> tuple[pd.DataFrame, Kind, Writing]:
    name = f"{date} and {clock}"
    both = joined(frame[date], frame[clock])
    frame = frame.drop(columns=[date, clock]).assign(**{name: both})
    columns = {o: t for o, t in kind.columns.items() if o not in _PAIR} | {"time": name}
    layouts = dict(writing.layouts)
    if date in layouts:
        layouts[name] = layouts.pop(date)
    return frame, kind.model_copy(update={"columns": columns}), replace(writing, layouts=layouts)


def _bare(frame: pd.DataFrame, kind: Kind, ids: Collection[str]) -> dict[str, str]:
    """Headings that are known without their unit, and what they are then."""
    named = set(kind.columns.values())
    bare: dict[str, str] = {}
    for heading in map(str, frame.columns):
        name, unit = split_unit(heading)
        ours = name.lower() in _LONG if kind.layout == "long" else name in ids
        taken = name in frame.columns or name in bare.values()
        if unit and not taken and heading not in (*named, *ids) and (ours or name in named):
            bare[heading] = name
    return bare


def _wanted(frame: pd.DataFrame, kind: Kind, ids: Collection[str]) -> list[tuple[str, str, str]]:
    """'value' or 'rate', device ('' for all of a long file), and the heading it stands under."""
    if kind.layout == "long":
        lower = {str(c).lower(): str(c) for c in reversed(list(frame.columns))}
        if needed_columns(lower, kind.columns)[-1] != "value":
            # A flow that the logger writes beside its travel times is not read.
            return []
        found = {of: kind.columns.get(of, lower.get(of, "")) for of in ("value", "rate")}
        return [(of, "", theirs) for of, theirs in found.items() if theirs in frame.columns]
    theirs = {heading: ours for ours, heading in kind.columns.items()}
    known = {theirs.get(str(c), str(c)): str(c) for c in frame.columns}
    return [("value", device, heading) for device, heading in known.items() if device in ids]


def _both(kind: Kind) -> Finding:
    return Finding(
        "error",
        FILE,
        f"readings.columns of {kind.files}",
        got="a column of times and one of dates",
        expected="either time, or date and time_of_day",
        remedy="Remove the one that is not so",
    )


def _no_half(frame: pd.DataFrame, ours: str, theirs: str, source: str) -> Finding:
    if theirs:
        return Finding(
            "error",
            source,
            column=theirs,
            got=lacking(frame),
            expected=f"the column named as {ours} in {FILE}",
            remedy="Correct it in columns under [[readings]]",
        )
    other = "times of day beside that of dates" if ours == "time_of_day" else "dates"
    return Finding(
        "error",
        source,
        got=lacking(frame).replace("no such column", f"no column of {other}"),
        expected="a date and a time of day",
        remedy=f"Name yours as {ours} in columns under [[readings]] in {FILE}",
    )
