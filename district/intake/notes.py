"""What cleaning has to say of one device: words for it, and where it stands."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, Severity
from district.intake.devices import Device
from district.intake.tallies import Tally
from district.intake.transit import SOUND_IN_WATER_M_S
from district.schema.inputs import RATE_KINDS
from district.words import SHOWN, brief, moment, percent, plural, whole

Array = np.ndarray[Any, Any]


def placed(notes: Iterable[Finding], device: Device, *, source: str) -> list[Finding]:
    """Notes of a device's record with their file and the device's name filled in."""
    return [
        replace(n, source=n.source or source, place=f"{device.word} {device.device_id}")
        for n in notes
    ]


def left_out(
    count: int,
    what: str,
    *,
    expected: str = "none",
    mend: str = "Nothing need be done",
    severity: Severity = "note",
) -> list[Finding]:
    """One finding of readings set aside, none for none.

    >>> left_out(2, "below the one before")[0].got
    '2 readings below the one before'
    """
    if not count:
        return []
    rest = f"{'it is' if count == 1 else 'they are'} left out"
    got = f"{plural(count, 'reading')} {what}"
    return [Finding(severity, "", got=got, expected=expected, remedy=f"{mend}; {rest}")]


def _when(time_us: int, timezone: str) -> str:
    """An instant for a sentence, on the district's clock."""
    return moment(pd.Timestamp(int(time_us), unit="us", tz="UTC"), timezone=timezone)


def _first_of(said: list[str], count: int) -> str:
    """The first of `count` happenings in order of time, and how many more, in brackets."""
    more = f" and {whole(count - len(said))} more" if count > len(said) else ""
    return f"({', '.join(said)}{more})"


def contradicted(device: Device, time_us: Array, value: Array, dropped: Array) -> list[Tally]:
    """A tally of register readings that are dropped as misread, none for none."""
    at = np.flatnonzero(dropped)
    said = [f"{value[i]:.10g} on {_when(time_us[i], device.timezone)}" for i in at[:SHOWN]]
    return [Tally("misread", len(at), tuple(said))] if len(at) else []


def fallen(device: Device, time_us: Array, value: Array, fell: Array, what: str) -> list[Tally]:
    """A tally of intervals, flagged in `fell`, in which a register fell; none for none.

    `time_us` and `value` are of readings, one more than there are intervals; `what` is 'fallen'
    for those as after a change of meter, else 'below'.
    """
    at = np.flatnonzero(fell)
    said = [
        f"from {value[i]:.10g} to {value[i + 1]:.10g} by {_when(time_us[i + 1], device.timezone)}"
        for i in at[:SHOWN]
    ]
    return [Tally(what, len(at), tuple(said))] if len(at) else []


def new_registers(
    device: Device, time_us: Array, value: Array, changed: Array, jumped: Array
) -> list[Finding]:
    """Notes of intervals in which works record a new meter, and of jumps that look like one."""
    notes = []
    for i in np.flatnonzero(changed):
        notes.append(
            Finding(
                "note",
                "",
                got=f"a register that went from {value[i]:.10g} to {value[i + 1]:.10g} by "
                f"{_when(time_us[i + 1], device.timezone)}, when works record a change of meter",
                expected="one register throughout",
                remedy="Nothing need be done; what passed between the two is left out",
            )
        )
    for i in np.flatnonzero(jumped):
        notes.append(
            Finding(
                "note",
                "",
                got=f"a register that jumped from {value[i]:.10g} to {value[i + 1]:.10g} by "
                f"{_when(time_us[i + 1], device.timezone)} and went on from there",
                expected="a rise like the others, or a meter_change in the works",
                remedy="Record the change if the meter is new; what passed between the two is "
                "left out",
            )
        )
    return notes


def said_of(device: Device, tally: Tally) -> list[Finding]:
    """What to say of a tally; its file comes later."""
    count, first = tally.count, _first_of(list(tally.said), tally.count)
    match tally.what:
        case "misread":
            what = f"that the next ones contradict {first}"
            return left_out(count, what, expected="a register that only rises")
        case "fallen":
            return left_out(count, f"at which a register fell, as after a change of meter {first}")
        case "below":
            return left_out(count, f"below the one before {first}")
        case "beyond":
            return left_out(
                count,
                f"beyond what can pass, up to {brief(tally.high)} m³/h",
                expected=f"at most {device.most_said}",
                mend="Check them against the meter",
                severity="warning",
            )
        case "unit":
            return _wrong_unit(device, tally)
        case "back":
            return _ran_back(device, count)
        case "unsound":
            low, high = SOUND_IN_WATER_M_S
            return left_out(
                count,
                f"of travel times by which sound would run at {_span(tally.low, tally.high)} m/s",
                expected=f"{low:g} to {high:g} m/s, as in water",
                mend="Check path_length_mm, the unit of the times and the air in the pipe",
                severity="warning",
            )
        case "jumped":
            return left_out(count, "far beyond all others of the same device")
        case "still":
            return left_out(
                count,
                "of a level that stood still for a day or more",
                expected="a level that moves",
                mend="Check the sensor, or take it out of the sensors if the tank is not in use",
            )
    raise ValueError(tally.what)


def _wrong_unit(device: Device, tally: Tally) -> list[Finding]:
    if not device.most_column:
        # Told by the check of flows against pipes.
        return []
    return [
        Finding(
            "warning",
            "",
            got=f"{percent(tally.count / max(tally.total, 1), decimals=0)} of its readings beyond "
            f"what can pass, up to {brief(tally.high)} m³/h",
            expected=f"at most {device.most_said}",
            remedy=f"Check reading_unit, litres_per_pulse and {device.most_column} of the meter; "
            "the readings are used as they are",
        )
    ]


def _span(low: float, high: float) -> str:
    if math.isnan(low) or math.isnan(high):
        return ""
    first, last = (whole(round(v, -1)) for v in (low, high))
    return first if first == last else f"{first} to {last}"


def _ran_back(device: Device, count: int) -> list[Finding]:
    """What to say of readings of water running back through a rate or pulse meter."""
    what = "of flow against the meter's direction"
    if device.check_valve:
        expected = f"none, as check valve {device.check_valve} stands on its pipe"
        mend = "Check the valve, which may leak, and the meter"
    elif device.kind in RATE_KINDS:
        expected = "none, as its role is neither transfer nor outlet"
        mend = "Set its role to transfer if water may run back"
    else:
        what, expected, mend = "below zero", "none", "Nothing need be done"
    severity: Severity = "warning" if device.check_valve else "note"
    return left_out(count, what, expected=expected, mend=mend, severity=severity)
