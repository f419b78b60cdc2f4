"""What is missing from the devices' records, and what cleaning set aside, told by file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pandas as pd

from district.errors import Finding
from district.intake.devices import Device
from district.intake.notes import left_out
from district.results import Inputs
from district.schema.inputs import ALARM_KINDS
from district.schema.stored import FEW_READINGS
from district.words import percent, places

_MISSING_SHARE = 0.05
# Resets, backward and impossible flow are told device by device: see `intake.notes`.
_FLAWS = {
    "spike_count": "far beyond all others of the same device",
    "stuck_count": "of a value that stood still for hours",
}


def silent(quality: pd.DataFrame, devices: Mapping[str, Device], inputs: Inputs) -> list[Finding]:
    """Devices that no reading file speaks of; `quality` is table DEVICE_QUALITY.

    A device whose unit is not understood has a finding of its own and is left out here.
    """
    read = set(quality["device_id"])
    return [
        Finding(
            "warning",
            inputs.files.get(f"{device.word}s", f"{device.word}s"),
            f"{device.word} {device.device_id}",
            got="no readings",
            expected="readings in one of the reading files",
            remedy="Add its readings, or correct its id",
        )
        for device in devices.values()
        if device.device_id not in read and not math.isnan(device.scale)
    ]


def missing(quality: pd.DataFrame, devices: Mapping[str, Device]) -> list[Finding]:
    """Devices that lack more than a small share of their readings; table DEVICE_QUALITY."""
    some = quality[
        (quality["expected_count"] >= FEW_READINGS)
        & (quality["missing_share"] > _MISSING_SHARE)
        & ~quality["kind"].isin(ALARM_KINDS)
    ]
    return [
        Finding(
            "warning",
            row.source,
            f"{devices[row.device_id].word} {row.device_id}",
            got=f"{percent(row.missing_share, decimals=0)} missing",
            expected=f"at most {percent(_MISSING_SHARE)} of its readings missing",
            remedy="Look for them; times without readings are left out",
        )
        for row in some.itertuples(index=False)
    ]


def flagged(quality: pd.DataFrame, devices: Mapping[str, Device]) -> list[Finding]:
    """What cleaning set aside: one note a file and flaw; table DEVICE_QUALITY."""
    word = quality["device_id"].map({i: d.word for i, d in devices.items()})
    found: list[Finding] = []
    for (file, word_of), rows in quality.groupby(["source", word.rename("word")]):
        for flaw, said in _FLAWS.items():
            hit = rows[rows[flaw] > 0]
            if hit.empty:
                continue
            place = places(str(word_of), hit["device_id"])
            notes = left_out(int(hit[flaw].sum()), said)
            found += [replace(note, source=str(file), place=place) for note in notes]
    return found
