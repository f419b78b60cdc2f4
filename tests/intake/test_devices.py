from __future__ import annotations

import math
from typing import Any

import pytest

from district.intake.devices import read_devices


@pytest.mark.parametrize(
    ("meter", "scale"),
    [
        ({"kind": "register"}, 1.0),
        ({"kind": "register", "reading_unit": "l"}, 0.001),
        # 1 ft³ = 0.028316846592 m³, exactly (foot of 0.3048 m).
        ({"kind": "register", "reading_unit": "ft3"}, 0.028316846592),
        ({"kind": "pulse", "litres_per_pulse": 10}, 0.01),
        ({"kind": "pulse", "litres_per_pulse": 10, "reading_unit": "pulses"}, 0.01),
        ({"kind": "pulse", "reading_unit": "m3"}, 1.0),
        ({"kind": "electromagnetic"}, 3.6),
        ({"kind": "transit_time", "reading_unit": "m3/h"}, 1.0),
        ({"kind": "transit_time", "reading_unit": "Ml/d"}, 1000 / 24),
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
    ]
    devices, findings = read_devices(inputs_of([], sensors))
    assert findings == []
    assert [devices[s].scale for s in "ABC"] == pytest.approx([1.0, 100 / 9.80665, 1.0])


@pytest.mark.parametrize(
    "meter",
    [
        {"kind": "electromagnetic", "reading_unit": "bar"},
        {"kind": "register", "reading_unit": "l/s"},
        {"kind": "pulse"},
        {"kind": "pulse", "reading_unit": "psi"},
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
