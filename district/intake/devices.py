"""What each meter and sensor reports, and in what unit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pandas as pd

from district.errors import Finding
from district.intake.fittings import check_valves, spans_of
from district.intake.heading_units import PULSES, unit_of
from district.intake.possible import FASTEST_M_S, most_through_m3_h
from district.intake.sound_path import SoundPath, sound_path
from district.network.bores import pipe_bores_mm
from district.results import Inputs
from district.schema.inputs import Q4_OVER_Q3, RATE_KINDS
from district.units import KNOWN_UNITS, factor

_BOTH_WAYS = ("transfer", "outlet")


@dataclass(frozen=True)
class Device:
    """A meter or sensor as its readings need it."""

    device_id: str
    kind: str
    word: str
    """'meter' or 'sensor', for messages."""
    scale: float
    """One of the readings' units in m³ (register, pulse), m³/h (rate), m of water or m; NaN if the
    unit is not understood, and the readings with it."""
    both_ways: bool = False
    """Water may run back through it, and its register with it."""
    rollover: float = math.nan
    """Where the register starts again, in its own unit; NaN if unknown."""
    resolution_m3: float = math.nan
    """As stated by the user, or the volume of a pulse; NaN if unknown."""
    counts: bool = False
    """A pulse meter whose readings are numbers of pulses."""
    rate_scale: float = math.nan
    """One of the units of a rate beside the readings in m³/h; NaN if not understood."""
    error_share: float = math.nan
    """95 % limit of its error, as stated."""
    path: SoundPath | None = None
    """Of a transit-time meter read by its travel times."""
    most_m3_h: float = math.nan
    """More cannot pass; NaN if nothing tells."""
    most_said: str = ""
    """What tells it, in words."""
    most_column: str = ""
    """The column of the meter that tells it; '' if its pipe does."""
    check_valve: str = ""
    """A check valve on its pipe: nothing runs back."""
    changes: tuple[tuple[int, int], ...] = ()
    """When it was changed, by the works: spans in microseconds UTC."""
    empty: tuple[tuple[int, int], ...] = ()
    """When the premises behind it stood empty, likewise."""
    layer: str = ""
    """File of the layer it stands in."""
    timezone: str = "UTC"
    """Clock that findings name times by."""
    unit: str = ""
    """Unit of its readings as the user states it; '' if nothing does."""
    surface_m2: float = math.nan
    """Plan area of the tank whose level it shows."""


def read_devices(
    inputs: Inputs, *, timezone: str = "UTC"
) -> tuple[dict[str, Device], list[Finding]]:
    """Every meter and sensor by id, and a finding for each whose unit cannot be understood.

    A device holds all that the cleaning of its readings depends on; `timezone` is the clock by
    which findings name times.
    """
    devices: dict[str, Device] = {}
    findings: list[Finding] = []
    meters_file = inputs.files.get("meters", "meters")
    bores_mm, stops = pipe_bores_mm(inputs).to_dict(), check_valves(inputs)
    changes, empty = spans_of(inputs.works, "meter_change"), spans_of(inputs.works, "empty")
    for row in inputs.meters.itertuples(index=False):
        if pd.notna(row.meter_id) and row.meter_id not in devices:
            stop = stops.get(row.meter_id, "")
            devices[row.meter_id] = Device(
                **_meter(row, meters_file, findings),
                **_most(row, bores_mm.get(row.meter_id, math.nan)),
                both_ways=row.role in _BOTH_WAYS and not stop,
                check_valve=stop,
                path=sound_path(row, bores_mm.get(row.meter_id, math.nan), meters_file, findings),
                changes=changes.get(row.meter_id, ()),
                empty=empty.get(row.meter_id, ()),
                layer=meters_file,
                timezone=timezone,
            )
    sensors_file = inputs.files.get("sensors", "sensors")
    for row in inputs.sensors.itertuples(index=False):
        if pd.notna(row.sensor_id) and row.sensor_id not in devices:
            devices[row.sensor_id] = _sensor(row, sensors_file, findings)
    return devices, findings


def _meter(row: Any, source: str, findings: list[Finding]) -> dict[str, Any]:
    """What its own row tells of a meter and its readings, by the names of `Device`."""
    kind = row.kind if isinstance(row.kind, str) else "register"
    unit = _unit(row.reading_unit)
    litres = float(row.litres_per_pulse)
    resolution_m3 = float(row.resolution_l) / 1000.0
    scale, counts = math.nan, False
    if kind in RATE_KINDS:
        scale = _scale(row.meter_id, unit or "l/s", "m3/h", "rate", kind, source, findings)
    elif kind == "register" and unit != PULSES:
        scale = _scale(row.meter_id, unit or "m3", "m3", "volume", kind, source, findings)
    elif unit in ("", PULSES):
        counts = kind == "pulse"
        scale = litres / 1000.0
        if math.isnan(litres) and not _already(findings, row.meter_id):
            findings.append(
                Finding(
                    "error",
                    source,
                    f"meter {row.meter_id}",
                    "litres_per_pulse",
                    got="nothing",
                    expected="the volume of one pulse in L, as it "
                    + ("is a pulse meter" if counts else "is read in pulses"),
                    remedy="Fill it in; it stands on the meter or its pulse unit",
                )
            )
        if math.isnan(resolution_m3):
            resolution_m3 = scale
    else:
        scale = _scale(row.meter_id, unit, "m3", "volume", kind, source, findings)
    digits = float(row.register_digits)
    return {
        "device_id": row.meter_id,
        "kind": kind,
        "word": "meter",
        "scale": scale,
        "rollover": 10.0**digits if not math.isnan(digits) else math.nan,
        "resolution_m3": resolution_m3,
        "counts": counts,
        "rate_scale": _rate_scale(row, source, findings) if kind == "register" else math.nan,
        "error_share": float(row.error_percent) / 100.0,
        "unit": unit,
    }


def _rate_scale(row: Any, source: str, findings: list[Finding]) -> float:
    unit = _unit(row.rate_unit) or "l/s"
    try:
        return factor(unit, "m3/h", quantity="rate")
    except ValueError as accepted:
        findings.append(
            Finding(
                "error",
                source,
                f"meter {row.meter_id}",
                "rate_unit",
                got=f'"{unit}"',
                expected=f"{accepted}, as the unit of a rate beside its readings",
                remedy="Correct the unit",
            )
        )
        return math.nan


def _most(row: Any, pipe_mm: float) -> dict[str, Any]:
    """The most that can pass: by the plate, else by the meter's own bore, else by its pipe's."""
    permanent, bore_mm = float(row.q3_m3_h), float(row.bore_mm)
    if not math.isnan(permanent):
        most = Q4_OVER_Q3 * permanent
        said = f"{most:.4g} m³/h, its overload flow Q4 (1.25 times q3_m3_h)"
        return {"most_m3_h": most, "most_said": said, "most_column": "q3_m3_h"}
    if math.isnan(bore_mm) and math.isnan(pipe_mm):
        return {}
    own = not math.isnan(bore_mm)
    width_mm = bore_mm if own else pipe_mm
    most = most_through_m3_h(width_mm / 1000.0)
    through = "its bore" if own else "its pipe"
    said = f"{most:.3g} m³/h, {FASTEST_M_S:g} m/s through {through} of {width_mm:g} mm"
    return {"most_m3_h": most, "most_said": said, "most_column": "bore_mm" if own else ""}


def _sensor(row: Any, source: str, findings: list[Finding]) -> Device:
    kind = row.kind if isinstance(row.kind, str) else ""
    quantity = {"pressure": "pressure", "tank_level": "length"}.get(kind)
    if quantity is None:
        return Device(row.sensor_id, kind, "sensor", 1.0)
    unit = _unit(row.reading_unit)
    scale = _scale(row.sensor_id, unit or "m", "m", quantity, kind, source, findings, word="sensor")
    surface_m2 = float(row.surface_m2) if kind == "tank_level" else math.nan
    return Device(row.sensor_id, kind, "sensor", scale, unit=unit, surface_m2=surface_m2)


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


def _unit(value: Any) -> str:
    """A unit as we write it where it is known, else as it stands there; '' for none."""
    said = value.strip() if isinstance(value, str) else ""
    return unit_of(said) or said
