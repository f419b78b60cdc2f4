from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from district.intake.devices import read_devices


@pytest.mark.parametrize(
    ("meter", "scale"),
    [
        ({"kind": "register"}, 1.0),
        ({"kind": "register", "reading_unit": "l"}, 0.001),
        # 1 ft³ = 0.028316846592 m³, exactly (foot of 0.3048 m).
        ({"kind": "register", "reading_unit": "ft3"}, 0.028316846592),
        ({"kind": "register", "reading_unit": "pulses", "litres_per_pulse": 100}, 0.1),
        ({"kind": "pulse", "litres_per_pulse": 10}, 0.01),
        ({"kind": "pulse", "litres_per_pulse": 10, "reading_unit": "pulses"}, 0.01),
        ({"kind": "pulse", "reading_unit": "m3"}, 1.0),
        ({"kind": "electromagnetic"}, 3.6),
        ({"kind": "transit_time", "reading_unit": "m3/h"}, 1.0),
        ({"kind": "transit_time", "reading_unit": "Ml/d"}, 1000 / 24),
        # As people write them, and as headings of files are understood too.
        ({"kind": "electromagnetic", "reading_unit": "LPS"}, 3.6),
        ({"kind": "electromagnetic", "reading_unit": "m³/hr"}, 1.0),
        ({"kind": "register", "reading_unit": "cubic feet"}, 0.028316846592),
        ({"kind": "pulse", "litres_per_pulse": 10, "reading_unit": "Impulse"}, 0.01),
    ],
)
def test_the_unit_of_a_meter(inputs_of: Any, meter: dict[str, Any], scale: float) -> None:
    devices, findings = read_devices(inputs_of([{"meter_id": "M", "role": "inlet", **meter}]))
    assert findings == []
    assert devices["M"].scale == pytest.approx(scale)


def test_the_unit_of_a_sensor(inputs_of: Any) -> None:
    sensors = [
        {"sensor_id": "A", "kind": "pressure"},
        # 1 bar = 100 kPa, 1 m of water = 9.80665 kPa.
        {"sensor_id": "B", "kind": "pressure", "reading_unit": "bar"},
        {"sensor_id": "C", "kind": "wet_floor"},
        {"sensor_id": "D", "kind": "tank_level", "surface_m2": 120.0},
        {"sensor_id": "E", "kind": "tank_level", "reading_unit": "cm"},
        {"sensor_id": "F", "kind": "tank_level", "reading_unit": "feet"},
    ]
    devices, findings = read_devices(inputs_of([], sensors))
    assert findings == []
    scales = [1.0, 100 / 9.80665, 1.0, 1.0, 0.01, 0.3048]
    assert [devices[s].scale for s in "ABCDEF"] == pytest.approx(scales)
    assert devices["D"].surface_m2 == 120.0


def test_a_level_in_a_unit_of_pressure_is_one_error(inputs_of: Any) -> None:
    sensor = {"sensor_id": "T", "kind": "tank_level", "reading_unit": "bar"}
    devices, (finding,) = read_devices(inputs_of([], [sensor]))
    assert (finding.severity, finding.place) == ("error", "sensor T")
    assert finding.expected == "one of m, mm, cm, km, in, ft, as it is a tank-level sensor"
    assert math.isnan(devices["T"].scale)


@pytest.mark.parametrize(
    "meter",
    [
        {"kind": "electromagnetic", "reading_unit": "bar"},
        {"kind": "register", "reading_unit": "l/s"},
        {"kind": "pulse"},
        {"kind": "pulse", "reading_unit": "psi"},
        {"kind": "register", "reading_unit": "pulses"},
    ],
)
def test_a_unit_of_the_wrong_kind_is_one_error(inputs_of: Any, meter: dict[str, Any]) -> None:
    devices, findings = read_devices(inputs_of([{"meter_id": "M", "role": "inlet", **meter}]))
    (finding,) = findings
    assert (finding.severity, finding.source, finding.place) == ("error", "meters.gpkg", "meter M")
    assert math.isnan(devices["M"].scale)


def test_rollover_resolution_and_direction(inputs_of: Any) -> None:
    devices, _ = read_devices(
        inputs_of(
            [
                {"meter_id": "A", "role": "inlet", "register_digits": 5, "resolution_l": 100},
                {"meter_id": "B", "role": "transfer", "kind": "pulse", "litres_per_pulse": 25},
            ]
        )
    )
    assert devices["A"].rollover == 100_000
    assert devices["A"].resolution_m3 == pytest.approx(0.1)
    assert not devices["A"].both_ways
    assert devices["B"].both_ways
    assert devices["B"].resolution_m3 == pytest.approx(0.025)


@pytest.mark.parametrize(
    ("plate", "most", "column"),
    [
        # Q4 = 1.25 Q3, ISO 4064-1:2014 / OIML R 49-1:2013.
        ({"q3_m3_h": 2.5, "bore_mm": 20}, 3.125, "q3_m3_h"),
        # 10 m/s · π/4 · 0.02² m² · 3600 s/h.
        ({"bore_mm": 20}, 11.31, "bore_mm"),
        ({}, math.nan, ""),
    ],
)
def test_the_most_that_can_pass(
    inputs_of: Any, plate: dict[str, Any], most: float, column: str
) -> None:
    devices, _ = read_devices(inputs_of([{"meter_id": "M", "role": "inlet", **plate}]))
    assert devices["M"].most_m3_h == pytest.approx(most, abs=0.01, nan_ok=True)
    assert devices["M"].most_column == column


def test_water_may_run_back_through_a_transfer_and_an_outlet(inputs_of: Any) -> None:
    roles = ("inlet", "transfer", "outlet", "building", "customer")
    devices, _ = read_devices(inputs_of([{"meter_id": r, "role": r} for r in roles]))
    assert [r for r in roles if devices[r].both_ways] == ["transfer", "outlet"]


def test_a_rate_beside_a_register_is_in_litres_a_second_unless_said(inputs_of: Any) -> None:
    meters = [
        {"meter_id": "A", "role": "inlet"},
        {"meter_id": "B", "role": "inlet", "rate_unit": "m3/h"},
        {"meter_id": "C", "role": "inlet", "rate_unit": "bar"},
    ]
    devices, findings = read_devices(inputs_of(meters), timezone="Europe/Vienna")
    assert [devices[m].rate_scale for m in "ABC"] == pytest.approx(
        [3.6, 1.0, math.nan], nan_ok=True
    )
    assert [(f.place, f.column) for f in findings] == [("meter C", "rate_unit")]
    assert devices["A"].timezone == "Europe/Vienna"


def test_a_sound_path_and_works_stand_in_the_device(inputs_of: Any) -> None:
    path = {"path_length_mm": 200, "path_angle_deg": 45, "bore_mm": 100}
    inputs = inputs_of([{"meter_id": "M", "role": "inlet", "kind": "transit_time", **path}])
    hour = pd.Timestamp("1970-01-01T01:00Z")
    works = pd.DataFrame(
        {"start": hour, "end": 2 * [hour + pd.Timedelta("1h")],
         "kind": ["meter_change", "empty"], "place_id": "M"}
    )  # fmt: skip
    devices, findings = read_devices(replace(inputs, works=works))
    assert findings == []
    found = devices["M"]
    assert found.path is not None
    assert found.path.path_m == 0.2
    assert found.changes == found.empty == ((3_600_000_000, 7_200_000_000),)
    assert hash(found) == hash(replace(found))
