"""How a reading file is laid out, and what its values look like."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from district.intake.column_words import likeness
from district.intake.guess_columns import as_texts
from district.intake.guess_times import (
    clock_column,
    clock_of,
    stamp_of,
    time_column,
    time_pair,
)
from district.intake.heading_units import split_unit
from district.intake.joined_times import joined
from district.intake.proposal import ColumnGuess, Sureness
from district.intake.reading_ids import HALF, device_column, headings, held, numeric_share
from district.intake.tabular import numbers
from district.intake.values_shape import shape_of, suits
from district.words import percent

_MOST = 0.9
_LOOKED_AT = 5
_BESIDE = 0.8
_TIME_UNIT = re.compile(r"\s*[\[(]\s*([µμu]s|ns|ms|s)\s*[\])]$")
_WET_OR_DRY = {
    "wet", "dry", "alarm", "normal", "ok", "true", "false", "yes", "no", "nass", "trocken", "ja",
    "nein", "0", "1",
}  # fmt: skip
Devices = Mapping[str, str]
"""Known meter and sensor ids -> what each reports ('' if nothing says it)."""


@dataclass(frozen=True)
class Layout:
    """One reading file, as far as its first rows tell."""

    layout: Literal["long", "wide"]
    sureness: Sureness
    why: str
    columns: tuple[ColumnGuess, ...]
    timezone: str = ""
    timezone_why: str = ""
    stamp: Literal["", "start", "end"] = ""
    stamp_why: str = ""
    values: str = ""
    doubt: str = ""


def guess_layout(
    frame: pd.DataFrame,
    *,
    file: str,
    devices: Devices,
    sheet: str = "",
    units: Mapping[str, str] | None = None,
) -> Layout | str:
    """The layout of a reading file, or in a few words why it is none.

    `frame` holds the first rows as read, `file` is the file's name and `sheet` that of the sheet
    if there are several; `devices` are the ids of the meter and sensor layers, `units` what the
    file says of them by heading.
    """
    pair = time_pair(frame)
    time = time_column(frame) if pair is None else " and ".join(pair)
    if time is None:
        clock = clock_column(frame)
        lone = f'times of day stand in "{clock}", and no column of dates beside it'
        return lone if clock else "no column of it can be read as times"
    if pair is not None:
        both = joined(frame[pair[0]], frame[pair[1]])
        frame = frame.drop(columns=list(pair)).assign(**{time: both})
    name = sheet if held(sheet, frozenset(devices)) else Path(file).stem
    found = _layout(frame, time, _when(time, pair), name, devices)
    said = dict(units or {})
    return found if isinstance(found, str) else _with_units(found, said)


def _when(time: str, pair: tuple[str, str] | None) -> tuple[ColumnGuess, ...]:
    if pair is None:
        known = likeness("readings", "time", time)
        return (_named("time", time, "sure" if known else "likely", "times"),)
    return (
        _named("date", pair[0], "sure", "dates"),
        _named("time_of_day", pair[1], "sure", "times of day"),
    )


def _with_units(layout: Layout, units: Mapping[str, str]) -> Layout:
    said = {c.theirs: units.get(c.theirs) or split_unit(c.theirs)[1] for c in layout.columns}
    found = dict.fromkeys(u for u in said.values() if u)
    if not found:
        return layout
    told = f"in {', '.join(found)} by its heading, which is used"
    return replace(layout, values=f"{layout.values}; {told}" if layout.values else told)


def _layout(
    frame: pd.DataFrame,
    time: str,
    when: tuple[ColumnGuess, ...],
    name: str,
    devices: Devices,
) -> Layout | str:
    rest = frame.drop(columns=time)
    counted = [
        str(c)
        for c in rest.columns
        if numeric_share(rest[c]) >= _MOST and not _is_time_like(rest[c], str(c))
    ]
    if not counted and not any(_wet_or_dry(rest[c]) for c in rest.columns):
        return "no column of it holds numbers"
    known = frozenset(devices)
    own = headings(rest, known)
    device = device_column(rest, known)
    clock = clock_of(frame[time], time)
    stamp, stamp_why = stamp_of(time)
    if own and (device is None or device[1] < HALF):
        columns = (
            *when,
            *(
                ColumnGuess(d, heading, "sure" if d == heading else "likely", _heading_why(d))
                for d, heading in own.items()
            ),
        )
        sureness: Sureness = "sure" if len(own) >= HALF * len(counted) else "likely"
        why = f"{_of_columns(len(own), len(rest.columns))} named after a meter or sensor"
        shape = _shapes({d: rest[heading] for d, heading in own.items()}, devices)
        return Layout("wide", sureness, why, columns, *clock, stamp, stamp_why, *shape)
    if device is not None and (device[1] >= HALF or not held(name, known)):
        return _long(rest, counted, when, device, clock, (stamp, stamp_why), devices)
    return _one_device(rest, counted, when, clock, (stamp, stamp_why), name, devices)


def _long(
    rest: pd.DataFrame,
    counted: list[str],
    when: tuple[ColumnGuess, ...],
    device: tuple[str, float],
    clock: tuple[str, str],
    stamp: tuple[Literal["", "start", "end"], str],
    devices: Devices,
) -> Layout | str:
    name, share = device
    value = _value_column(rest, counted, name)
    if value is None:
        return "no column of it holds the values"
    if as_texts(rest[name]).is_unique and likeness("readings", "value", value.theirs) == 0:
        return "each meter or sensor stands in it once: a list of them, not readings"
    why = _device_why(share, frozenset(devices))
    matched: Sureness = "sure" if share >= HALF else "unsure"
    second = _second(rest, counted, value, name, devices)
    columns = (_named("device_id", name, matched, why), *when, *second)
    sureness: Sureness = "unsure" if value.sureness == "unsure" else matched
    groups = {d: rest[value.theirs][ids == d] for ids, d in _groups(rest[name])}
    return Layout("long", sureness, why, columns, *clock, *stamp, *_shapes(groups, devices))


def _one_device(
    rest: pd.DataFrame,
    counted: list[str],
    when: tuple[ColumnGuess, ...],
    clock: tuple[str, str],
    stamp: tuple[Literal["", "start", "end"], str],
    name: str,
    devices: Devices,
) -> Layout | str:
    value = _value_column(rest, counted, "")
    times = _travel_times(counted) if value is not None else ()
    device_id = held(name, frozenset(devices))
    if times and device_id:
        why = f"its name holds the id {device_id}"
        return Layout("long", "likely", why, (*when, *times), *clock, *stamp)
    if value is None or (len(counted) > 1 and likeness("readings", "value", value.theirs) == 0):
        return "several columns of numbers, none named after a meter or sensor of the layers"
    if not device_id:
        unsure = ColumnGuess("FILL_IN", value.theirs, "unsure", "put the meter's id in its place")
        why = "one column of values, and nothing says of which meter or sensor"
        shape = _shapes({"": rest[value.theirs]}, {})
        return Layout("wide", "unsure", why, (*when, unsure), *clock, *stamp, *shape)
    shape = _shapes({device_id: rest[value.theirs]}, devices)
    if name == device_id:
        # A long file without ids is taken to be of the meter it is named after.
        why = "each file is named after its meter or sensor"
        return Layout("long", value.sureness, why, (*when, value), *clock, *stamp, *shape)
    why = f"its name holds the id {device_id}"
    columns = (*when, ColumnGuess(device_id, value.theirs, "likely", why))
    return Layout("wide", "likely", why, columns, *clock, *stamp, *shape)


def _is_time_like(values: pd.Series[Any], name: str) -> bool:
    return pd.api.types.is_datetime64_any_dtype(values.dtype) or name.lower() in ("hour", "year")


def _wet_or_dry(values: pd.Series[Any]) -> bool:
    said = set(as_texts(values).str.lower())
    return bool(said) and said <= _WET_OR_DRY


def _value_column(rest: pd.DataFrame, counted: list[str], device: str) -> ColumnGuess | None:
    wet = [str(c) for c in rest.columns if _wet_or_dry(rest[c])]
    among = [c for c in dict.fromkeys((*counted, *wet)) if c != device]
    if not among:
        return None
    best = max(among, key=lambda c: (likeness("readings", "value", c), -among.index(c)))
    alike = likeness("readings", "value", best)
    if alike:
        return _named("value", best, "sure" if alike >= 0.85 else "likely", "values")
    sureness: Sureness = "likely" if len(among) == 1 else "unsure"
    return ColumnGuess("value", best, sureness, f"{len(among)} columns of numbers, this is first")


def _second(
    rest: pd.DataFrame, counted: list[str], value: ColumnGuess, device: str, devices: Devices
) -> tuple[ColumnGuess, ...]:
    """The value column, with the rate beside a register; or two travel times instead."""

    times = _travel_times(counted)
    if times and likeness("readings", "value", value.theirs) == 0:
        return times
    rate = _beside("rate", [c for c in counted if c not in (device, value.theirs)])
    totals = any(devices.get(str(i)) == "register" for i in as_texts(rest[device]).unique())
    if rate and totals:
        return value, _named("rate", rate, "likely", "a rate beside a register")
    return (value,)


def _beside(ours: str, among: list[str]) -> str:
    likely = [c for c in among if likeness("readings", ours, c) >= _BESIDE]
    return max(likely, key=lambda c: likeness("readings", ours, c), default="")


def _travel_times(counted: list[str]) -> tuple[ColumnGuess, ...]:
    bare = {_TIME_UNIT.sub("", c): c for c in counted}
    up, down = (bare.get(_beside(ours, list(bare)), "") for ours in ("up_us", "down_us"))
    if not (up and down):
        return ()
    said = _TIME_UNIT.search(up)
    unit = said[1].replace("µ", "u").replace("μ", "u") if said else "us"
    why = f"travel times in {unit} by the heading" if said else "travel times in µs, or say up_ns"
    return _named(f"up_{unit}", up, "likely", why), _named(f"down_{unit}", down, "likely", why)


def _named(ours: str, theirs: str, sureness: Sureness, what: str) -> ColumnGuess:
    own = "its own name" if theirs.lower() == ours else what
    return ColumnGuess(ours, theirs, sureness, own)


def _groups(ids: pd.Series[Any]) -> list[tuple[pd.Series[Any], str]]:
    texts = as_texts(ids).reindex(ids.index)
    common = list(texts.value_counts().index[:_LOOKED_AT])
    return [(texts, str(d)) for d in common]


def _shapes(values: Mapping[str, pd.Series[Any]], devices: Devices) -> tuple[str, str]:
    """What the values of some devices look like, and where that is not what they report."""
    seen: dict[str, list[str]] = {}
    doubts = []
    for device_id, series in list(values.items())[:_LOOKED_AT]:
        shape = shape_of(numbers(series))
        if shape:
            seen.setdefault(shape, []).append(device_id)
        kind = devices.get(device_id)
        if kind is not None and not suits(shape, kind):
            taken = f"its kind is {kind}" if kind else "no kind says so, and a register is taken"
            doubts.append(f"{device_id}: {shape}, but {taken}")
    said = []
    for shape, ids in seen.items():
        names = ", ".join(f"{i} ({devices[i]})" if devices.get(i) else i for i in ids if i)
        said.append(f"{names}: {shape}" if names else shape)
    return "; ".join(said), "; ".join(doubts)


def _device_why(share: float, known: frozenset[str]) -> str:
    if not known:
        return "a row a reading; no meter or sensor layer to compare its ids with"
    if share >= HALF:
        per_cent = percent(share, decimals=0)
        return f"a row a reading; {per_cent} of its ids are meters or sensors of the layers"
    return "a row a reading, but its ids are not those of the meters and sensors"


def _heading_why(device_id: str) -> str:
    return f"it holds the id {device_id}"


def _of_columns(count: int, whole: int) -> str:
    return f"{count} of {whole} columns {'is' if count == 1 else 'are'}"
