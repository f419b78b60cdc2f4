"""The unit a file states beside its values, against the one a device is said to report in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from district.errors import Finding
from district.intake.devices import Device
from district.intake.heading_units import PULSES, QUANTITY
from district.intake.parse import ReadingFile
from district.intake.rows import Rows, take
from district.schema.inputs import RATE_KINDS
from district.units import KNOWN_UNITS, factor

_BASE = {"rate": "m3/h", "volume": "m3", "pressure": "m", "length": "m"}
"""What a device's scale is in."""
_QUANTITIES = {
    "register": "volume",
    "pulse": "volume",
    "pressure": "pressure",
    "tank_level": "length",
}


def own_per_file_unit(device: Device, unit: str, of: str = "value") -> float:
    """How many of the device's own units one of the file's is; NaN where they do not agree.

    1 where the file states no unit, and for sensors whose values have none. `of` is 'value', or
    'rate' for a rate beside it.

    >>> own_per_file_unit(Device("M1", "register", "meter", scale=0.001), "m3")
    1000.0
    """
    quantity = _quantity(device, of)
    counted = device.kind == "pulse" or device.unit == PULSES
    if not unit or not quantity or (QUANTITY[unit] == "count" and counted and of == "value"):
        return 1.0
    if not _measures(unit, quantity):
        return math.nan
    scale = device.scale if of == "value" else device.rate_scale
    return factor(unit, _BASE[quantity], quantity=quantity) / scale


def in_own_units(
    rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device]
) -> tuple[Rows, list[Finding]]:
    """Values and rates in each device's own units where its file states others, and what disagrees.

    Values in a unit of another quantity are left out.
    """
    read = {"value": rows.value.copy(), "rate": rows.rate.copy()}
    findings: list[Finding] = []
    for n, file in enumerate(files):
        if not file.units:
            continue
        said = {(of, device): (unit, heading) for of, device, unit, heading in file.units}
        here = np.flatnonzero(rows.file == n)
        held = np.flatnonzero(np.bincount(rows.device[here], minlength=len(devices)))
        for of, numbers in read.items():
            known = here[~np.isnan(numbers[here])]
            some = np.bincount(rows.device[known], minlength=len(devices)) > 0
            each = np.ones(len(devices))
            for i in map(int, held):
                stated = said.get((of, ""), said.get((of, devices[i].device_id)))
                if stated is None or (of == "rate" and not some[i]):
                    continue
                unit, heading = stated
                each[i] = own_per_file_unit(devices[i], unit, of)
                told = disagreement(devices[i], unit, source=file.name, column=heading, of=of)
                findings += [] if told is None else [told]
            numbers[here] *= each[rows.device[here]]
    kept = ~np.isnan(read["value"]) | np.isnan(rows.value)
    return take(replace(rows, **read), kept), findings


def disagreement(
    device: Device, unit: str, *, source: str, column: str, of: str = "value"
) -> Finding | None:
    """What to say where a file's unit is not the device's: an error if of another quantity."""
    quantity = _quantity(device, of)
    if not quantity or math.isnan(device.scale):
        return None
    place = f"{device.word} {device.device_id}"
    each = own_per_file_unit(device, unit, of)
    if not _measures(unit, quantity) and math.isnan(each):
        accepted = ", ".join(KNOWN_UNITS[quantity])
        article = "an" if device.kind[:1] in "aeiou" else "a"
        kind = f"as it is {article} {device.kind.replace('_', '-')} {device.word}"
        mend = f"Correct the unit in the file, or the {device.word}'s kind; its readings there"
        return Finding(
            "error",
            source,
            place,
            column,
            got=f"values in {unit}",
            expected=f"a {quantity} ({accepted})" + (f", {kind}" if of == "value" else ""),
            remedy=f"{mend} are left out"
            if of == "value"
            else "Correct the unit in the file; its rates there are left out",
        )
    if of == "rate" or device.unit == "" or each == 1.0:
        return None
    return Finding(
        "warning",
        source,
        place,
        column,
        got=f"values in {unit}",
        expected=f"{device.unit}, its reading_unit",
        remedy="Correct the one that is wrong; the file's unit is used",
    )


def _quantity(device: Device, of: str) -> str:
    if of == "rate":
        return "rate"
    if device.kind in RATE_KINDS:
        return "rate"
    return _QUANTITIES.get(device.kind, "")


def _measures(unit: str, quantity: str) -> bool:
    return QUANTITY[unit] == quantity or (quantity == "length" and unit in KNOWN_UNITS["length"])
