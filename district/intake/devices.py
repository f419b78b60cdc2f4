"""What each meter and sensor reports, and in what unit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pandas as pd

from district.errors import Finding
from district.results import Inputs
from district.schema.inputs import RATE_KINDS
from district.units import KNOWN_UNITS, factor

_PULSES = ("pulse", "pulses", "count", "counts")


@dataclass(frozen=True)
class Device:
    """A meter or sensor as its readings need it."""

    device_id: str
    kind: str
    word: str
    """'meter' or 'sensor', for messages."""
    scale: float
    """One of the readings' units in m³ (register, pulse), m³/h (rate) or m of water; NaN if the
    unit is not understood, and the readings with it."""
    both_ways: bool = False
    """Water may run back through it, and its register with it."""
    rollover: float = math.nan
    """Where the register starts again, in its own unit; NaN if unknown."""
    resolution_m3: float = math.nan
    """As stated by the user, or the volume of a pulse; NaN if unknown."""


def read_devices(inputs: Inputs) -> tuple[dict[str, Device], list[Finding]]:
    """Every meter and sensor by id, and a finding for each whose unit cannot be understood."""
    devices: dict[str, Device] = {}
    findings: list[Finding] = []
    meters_file = inputs.files.get("meters", "meters")
    for row in inputs.meters.itertuples(index=False):
        if pd.notna(row.meter_id) and row.meter_id not in devices:
            devices[row.meter_id] = _meter(row, meters_file, findings)
    sensors_file = inputs.files.get("sensors", "sensors")
    for row in inputs.sensors.itertuples(index=False):
        if pd.notna(row.sensor_id) and row.sensor_id not in devices:
            devices[row.sensor_id] = _sensor(row, sensors_file, findings)
    return devices, findings


def _meter(row: Any, source: str, findings: list[Finding]) -> Device:
    kind = row.kind if isinstance(row.kind, str) else "register"
    unit = _text(row.reading_unit)
    litres = float(row.litres_per_pulse)
    resolution_m3 = float(row.resolution_l) / 1000.0
    scale = math.nan
    if kind in RATE_KINDS:
        scale = _scale(row.meter_id, unit or "l/s", "m3/h", "rate", kind, source, findings)
    elif kind == "register":
        scale = _scale(row.meter_id, unit or "m3", "m3", "volume", kind, source, findings)
    elif unit.lower() in ("", *_PULSES):
        scale = litres / 1000.0
        if math.isnan(litres) and not _already(findings, row.meter_id):
            findings.append(
                Finding(
                    "error",
                    source,
                    f"meter {row.meter_id}",
                    "litres_per_pulse",
                    got="nothing",
                    expected="the volume of one pulse in L, as it is a pulse meter",
                    remedy="Fill it in; it stands on the meter or its pulse unit",
                )
            )
        if math.isnan(resolution_m3):
            resolution_m3 = scale
    else:
        scale = _scale(row.meter_id, unit, "m3", "volume", kind, source, findings)
    digits = float(row.register_digits)
    return Device(
        row.meter_id,
        kind,
        "meter",
        scale,
        both_ways=row.role == "transfer",
        rollover=10.0**digits if not math.isnan(digits) else math.nan,
        resolution_m3=resolution_m3,
    )


def _sensor(row: Any, source: str, findings: list[Finding]) -> Device:
    kind = row.kind if isinstance(row.kind, str) else ""
    if kind != "pressure":
        return Device(row.sensor_id, kind, "sensor", 1.0)
    unit = _text(row.reading_unit) or "m"
    scale = _scale(row.sensor_id, unit, "m", "pressure", kind, source, findings, word="sensor")
    return Device(row.sensor_id, kind, "sensor", scale)


def _scale(
    device_id: str,
    unit: str,
    to: str,
    quantity: str,
    kind: str,
    source: str,
    findings: list[Finding],
    word: str = "meter",
) -> float:
    try:
        return factor(unit, to, quantity=quantity)
    except ValueError:
        accepted = KNOWN_UNITS[quantity]
        pulses = ("pulses",) if kind == "pulse" else ()
        article = "an" if kind[:1] in "aeiou" else "a"
        findings.append(
            Finding(
                "error",
                source,
                f"{word} {device_id}",
                "reading_unit",
                got=f'"{unit}"',
                expected=f"one of {', '.join((*pulses, *accepted))}, "
                f"as it is {article} {kind.replace('_', '-')} {word}",
                remedy="Correct the unit, or the kind",
            )
        )
        return math.nan


def _already(findings: list[Finding], meter_id: str) -> bool:
    return any(f.place == f"meter {meter_id}" for f in findings)


def _text(value: Any) -> str:
    return value.strip() if isinstance(value, str) else ""
