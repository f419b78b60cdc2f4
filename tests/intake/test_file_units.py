from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from district.intake.devices import Device
from district.intake.file_units import disagreement, in_own_units, own_per_file_unit
from district.intake.parse import ReadingFile
from district.intake.rows import Rows
from district.settings import Readings

REGISTER = Device("M1", "register", "meter", scale=1.0, unit="m3")
RATE = Device("M2", "electromagnetic", "meter", scale=3.6, unit="l/s")
PULSE = Device("M3", "pulse", "meter", scale=0.01)
PRESSURE = Device("P1", "pressure", "sensor", scale=1.0)
LEVEL = Device("T1", "tank_level", "sensor", scale=0.01, unit="cm")
WET = Device("W1", "wet_floor", "sensor", scale=1.0)


@pytest.mark.parametrize(
    ("device", "unit", "each"),
    [
        (REGISTER, "", 1),
        (REGISTER, "l", 0.001),
        (REGISTER, "m3/h", math.nan),
        (REGISTER, "pulses", math.nan),
        # One litre a second is 3.6 cubic metres an hour.
        (RATE, "m3/h", 1 / 3.6),
        (RATE, "l/s", 1),
        (RATE, "bar", math.nan),
        (PULSE, "pulses", 1),
        (PULSE, "m3", 100),
        (Device("M4", "register", "meter", scale=0.01, unit="pulses"), "pulses", 1),
        # A bar is 100 000 Pa; a metre of water 9806.65 Pa.
        (PRESSURE, "bar", 100_000 / 9806.65),
        (LEVEL, "m", 100),
        (LEVEL, "ft", 30.48),
        (LEVEL, "mm", 0.1),
        (LEVEL, "bar", math.nan),
        (PRESSURE, "cm", math.nan),
        (WET, "m3", 1),
    ],
)
def test_how_many_of_its_own_units(device: Device, unit: str, each: float) -> None:
    assert own_per_file_unit(device, unit) == pytest.approx(each, rel=1e-9, nan_ok=True)


def test_values_in_own_units() -> None:
    kind = Readings(files="*.csv")
    files = [
        ReadingFile(Path("a.csv"), "a.csv", kind, "UTC", (("value", "", "m3/h", "Flow (m3/h)"),)),
        ReadingFile(Path("b.csv"), "b.csv", kind, "UTC"),
        ReadingFile(Path("c.csv"), "c.csv", kind, "UTC", (("value", "M1", "l", "M1 [l]"),)),
    ]
    device, file = np.array([1, 0, 1, 0, 1]), np.array([0, 0, 1, 2, 2])
    value, whole = np.array([3.6, 1.0, 5.0, 7.0, 8.0]), np.arange(5)
    rows = Rows(device, whole, value, np.full(5, np.nan), whole, file)
    read, findings = in_own_units(rows, files, [REGISTER, RATE])
    np.testing.assert_allclose(read.value, [1.0, 5.0, 0.007, 8.0])
    assert read.file.tolist() == [0, 1, 2, 2]
    assert [(f.severity, f.source, f.place, f.column) for f in findings] == [
        ("error", "a.csv", "meter M1", "Flow (m3/h)"),
        ("warning", "a.csv", "meter M2", "Flow (m3/h)"),
        ("warning", "c.csv", "meter M1", "M1 [l]"),
    ]
    np.testing.assert_array_equal(rows.value, value)


@pytest.mark.parametrize(
    ("device", "unit"), [(REGISTER, "m3"), (PULSE, "m3"), (PRESSURE, "bar"), (WET, "m3")]
)
def test_nothing_to_say(device: Device, unit: str) -> None:
    assert disagreement(device, unit, source="a.csv", column="M") is None


def test_another_unit_and_another_quantity() -> None:
    other = disagreement(RATE, "m3/h", source="a.csv", column="M2 (m3/h)")
    assert other is not None
    assert other.severity == "warning"
    assert other.sentence() == (
        "a.csv, meter M2, column M2 (m3/h): got values in m3/h, expected l/s, its reading_unit. "
        "Correct the one that is wrong; the file's unit is used."
    )
    alien = disagreement(PRESSURE, "l/s", source="a.csv", column="P1")
    assert alien is not None
    assert alien.severity == "error"
    assert alien.sentence() == (
        "a.csv, sensor P1, column P1: got values in l/s, expected a pressure (m, bar, kPa, psi, "
        "ft), as it is a pressure sensor. Correct the unit in the file, or the sensor's kind; its "
        "readings there are left out."
    )


def test_a_rate_beside_a_total() -> None:
    beside = replace(REGISTER, rate_scale=3.6)
    units = (("rate", "", "m3/h", "Flow (m3/h)"),)
    files = [ReadingFile(Path("a.csv"), "a.csv", Readings(files="*.csv"), "UTC", units)]
    one = np.array([0])
    rows = Rows(one, one, np.array([7.0]), np.array([36.0]), one, one)
    read, findings = in_own_units(rows, files, [beside])
    assert (read.value.tolist(), read.rate.tolist(), findings) == ([7.0], [10.0], [])
    files = [replace(files[0], units=(("rate", "", "bar", "Flow (bar)"),))]
    read, (finding,) = in_own_units(rows, files, [beside])
    assert read.value.tolist() == [7.0]
    assert np.isnan(read.rate[0])
    assert finding.sentence() == (
        "a.csv, meter M1, column Flow (bar): got values in bar, expected a rate (l/s, l/h, m3/h, "
        "m3/d, Ml/d, gpm). Correct the unit in the file; its rates there are left out."
    )
