"""Whether a meter's record looks like what its kind reports."""

from __future__ import annotations

import math
from dataclasses import dataclass
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


@dataclass(frozen=True)
class Moves:
    """How the values of a record follow on one another."""

    readings_count: int
    moved_count: int
    """Readings that differ from the one before."""
    falls_count: int
    """Of those, below it."""
    broken: float = math.nan
    """The first value that is no whole number; NaN if all are."""


def moves_of(value: Array, here: Array | None = None, *, whole: bool = True) -> Moves:
    """The moves of values in order of time; of those where `here` is true.

    `whole` says that they should be whole numbers: only then it is told which is not.
    """
    mine = np.ones(len(value), dtype=bool) if here is None else here
    step, own = np.diff(value)[mine[1:]], value[mine]
    odd = (own != np.round(own)) & whole
    broken = float(own[np.argmax(odd)]) if odd.any() else math.nan
    return Moves(len(own), int((step != 0).sum()), int((step < 0).sum()), broken)


def unlike_its_kind(device: Device, moves: Moves) -> list[Finding]:
    """One warning where the values of a whole record are of another kind of meter.

    Its file is filled in later. Fewer than 24 readings say nothing.
    """
    if moves.readings_count < _LEAST or device.word == "sensor":
        return []
    moved, falls = moves.moved_count, moves.falls_count
    only_rises = falls == 0 and moved >= _DISTINCT
    if device.kind == "register":
        if device.both_ways or falls < _FALLS_SHARE * max(moved, 1) or moved < _DISTINCT:
            return []
        return [
            _warning(
                f"values that fall {whole(falls)} times and rise {whole(moved - falls)} times",
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
    if device.counts and not math.isnan(moves.broken):
        return [
            _warning(
                f"pulses with fractions, such as {moves.broken:.6g}",
                "whole pulses",
                "Set reading_unit to what the values are in (say m3 or l), or correct its kind",
            )
        ]
    return []


def _warning(got: str, expected: str, remedy: str) -> Finding:
    return Finding("warning", "", got=got, expected=expected, remedy=remedy)
