"""A tank in the upper zone of the small folder, and what may be wrong with it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from tests.bad_inputs.breakers import Breaker, both, features, more
from tests.bad_inputs.cases import Case
from tests.bad_inputs.small_folder import feature

SURFACE_M2 = 60.0
NORTH, AT_SOURCE, FAR = (7.002, 47.001), (7.0005, 47.0), (7.002, 47.01)


def into_tank_l_s(hour: int) -> float:
    """What runs into the tank in the hour before: much at night, back out by day; 0 over a day."""
    return 1.5 * math.cos((hour - 0.5 - 3) * math.tau / 24)


def levels(*, factor: float = 1.0, step_h: int = 1) -> Breaker:
    """Readings of T1's level over the three days, in metres times `factor`."""

    def write(folder: Path) -> None:
        level_m, rows = 2.5, ["device_id,time,value"]
        for hour in range(73):
            level_m += into_tank_l_s(hour) * 3.6 / SURFACE_M2 if hour else 0.0
            if hour % step_h == 0:
                time = f"2025-03-{10 + hour // 24} {hour % 24:02d}:00"
                rows.append(f"T1,{time},{level_m * factor:.4f}")
        (folder / "readings/levels.csv").write_text("\n".join(rows) + "\n")

    return both(write, more('\n[[readings]]\nfiles = "readings/levels.csv"\n'))


def tank(place: tuple[float, float] = NORTH, **changes: Any) -> Breaker:
    """Sensor T1, with readings."""
    columns = {"sensor_id": "T1", "kind": "tank_level", "surface_m2": SURFACE_M2, **changes}
    more_sensors = features("sensors", lambda f: f.append(feature("Point", place, **columns)))
    return both(more_sensors, levels())


CASES = (
    Case(
        "tank without surface",
        tank(surface_m2=None),
        "sensors.geojson, sensor T1, column surface_m2: got nothing, expected the plan area of the "
        "water surface in m², as every tank level needs. Fill it in; it stands on the drawings of "
        "the tank, or is measured on the map.",
    ),
    Case(
        "tank with a surface below nothing",
        tank(surface_m2=-60),
        "sensors.geojson, sensor T1, column surface_m2: got -60, expected a number in m² from 0.1 "
        "to 1e+06. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "level in bar",
        tank(reading_unit="bar"),
        'sensors.geojson, sensor T1, column reading_unit: got "bar", expected one of m, mm, '
        "cm, km, in, ft, as it is a tank-level sensor. Correct the unit, or the kind.",
    ),
    Case(
        "tank far from any pipe",
        tank(FAR),
        "sensors.geojson, sensor T1, column geometry: got 1 point farther than 60 m from every "
        "pipe in use, expected each tank within reach of the pipe it stands on. Move it onto its "
        "pipe, or add the missing main; until then its level is not used, and what it stores looks "
        "like use or leakage.",
    ),
    Case(
        "tank before the zone meters",
        tank(AT_SOURCE),
        "sensors.geojson, sensor T1: got a tank in an area with a source, which no meter closes "
        "off, expected a tank inside a zone all of whose inflow is metered. Nothing need be done "
        "if it stands before the zone meters; its level is not used.",
    ),
    Case(
        "level every two hours",
        both(tank(), levels(step_h=2)),
        "readings/levels.csv, sensor T1: got a level every 2 h, expected one an hour or more "
        "often, so that the night's rise can be told. Read it every quarter of an hour; until then "
        "its zone has no night flow.",
    ),
)
