"""Whether a meter's record looks like what its kind reports."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.errors import Finding
from district.intake.devices import Device
from district.schema.inputs import RATE_KINDS
from district.words import whole

_LEAST = 24
_FALLS_SHARE = 0.25
_DISTINCT = 12
Array = np.ndarray[Any, Any]


def unlike_its_kind(device: Device, value: Array) -> list[Finding]:
    """One warning where the values, in order of time and in the meter's unit, are of another kind.

    Its file is filled in later. Fewer than 24 readings say nothing.
    """
    if len(value) < _LEAST:
        return []
    step = np.diff(value)
    moved = step[step != 0]
    falls = int((moved < 0).sum())
    only_rises = falls == 0 and len(moved) >= _DISTINCT
    if device.kind == "register":
        if device.both_ways or falls < _FALLS_SHARE * max(len(moved), 1) or len(moved) < _DISTINCT:
            return []
        return [
            _warning(
                f"values that fall {whole(falls)} times and rise {whole(len(moved) - falls)} times",
                "a register, which only rises",
                "Set its kind to electromagnetic or transit_time if they are flows, to pulse if "
                "they are counts, or its role to transfer if water runs both ways",
            )
        ]
    if device.kind in RATE_KINDS:
        if not only_rises:
            return []
        return [
            _warning(
                "values that only ever rise",
                "a flow, which rises and falls",
                "Set its kind to register if they are totals, and reading_unit to their unit",
            )
        ]
    if only_rises:
        return [
            _warning(
                "counts that only ever rise",
                "the pulses of each interval",
                "Set its kind to register with reading_unit = pulses if they are a running total",
            )
        ]
    broken = value != np.round(value)
    if device.counts and broken.any():
        return [
            _warning(
                f"pulses with fractions, such as {value[np.argmax(broken)]:.6g}",
                "whole pulses",
                "Set reading_unit to what the values are in (say m3 or l), or correct its kind",
            )
        ]
    return []


def _warning(got: str, expected: str, remedy: str) -> Finding:
    return Finding("warning", "", got=got, expected=expected, remedy=remedy)
