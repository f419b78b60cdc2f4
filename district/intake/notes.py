"""What cleaning has to say of one device: words for it, and where it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, Severity
from district.intake.devices import Device
from district.schema.inputs import RATE_KINDS
from district.words import SHOWN, moment, plural, whole

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


def contradicted(device: Device, time_us: Array, value: Array, keep: Array) -> list[Finding]:
    """One note of register readings that are dropped as misread: those not in `keep`."""
    at = np.flatnonzero(~keep)
    said = [f"{value[i]:.10g} on {_when(time_us[i], device.timezone)}" for i in at[:SHOWN]]
    what = f"that the next ones contradict {_first_of(said, len(at))}"
    return left_out(len(at), what, expected="a register that only rises")


def fallen(device: Device, time_us: Array, value: Array, fell: Array, what: str) -> list[Finding]:
    """One note of intervals, flagged in `fell`, in which a register fell, with the first times.

    `time_us` and `value` are of readings, one more than there are intervals.
    """
    at = np.flatnonzero(fell)
    said = [
        f"from {value[i]:.10g} to {value[i + 1]:.10g} by {_when(time_us[i + 1], device.timezone)}"
        for i in at[:SHOWN]
    ]
    return left_out(len(at), f"{what} {_first_of(said, len(at))}")


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


def ran_back(device: Device, count: int) -> list[Finding]:
    """What to say of `count` readings of water running back through a rate or pulse meter."""
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
