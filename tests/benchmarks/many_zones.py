"""A folder of many zones with twenty building meters each, and years of readings, by closed form.

Streets in a comb off trunk mains: a zone is a spine of pipes with stubs, its meter at the foot.
Every value is a function of the device and the time alone, so that any day can be written alone.
"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import duckdb

from tests.bad_inputs.small_folder import feature, write_layer

BUILDINGS = 20
"""Building meters in a zone."""
BEGAN = date(2023, 10, 1)
SETTINGS = """\
[district]
name = "Many mornings"
timezone = "Europe/Zurich"

[[readings]]
files = "readings/*.parquet"
timezone = "UTC"
"""
_STEP, _STUB, _ROW = 0.0003, 0.0004, 0.02
# Share of a day's use drawn before each hour, UTC: nothing from 22 to 5, 6 or 7, by building.
_FROM = "(5 + n % 3)"
_DRAWN = (
    f"greatest(least((hour(t) - {_FROM}) / (22.0 - {_FROM}), 1), 0)"
    f" + CASE WHEN hour(t) BETWEEN {_FROM} AND 21"
    " THEN (hash(n * 7919 + epoch(t)::BIGINT) % 100) / 3600.0 ELSE 0 END"
)
_ZONES = """
    SELECT 'M' || z AS device_id, t AS time,
        (hash(z * 1000003 + epoch(t)::BIGINT) % 20 + 30 + z % 17
        + (40 * (1 - cos((hour(t) + 3) % 24 / 24.0 * 2 * pi())))::INT
        + CASE WHEN z % 10 = 3 AND t >= TIMESTAMP '{leak}' + to_days((z % 500)::INT)
            THEN 25 ELSE 0 END)::DOUBLE AS value
    FROM instants, range({zones}) zones(z)
"""
# A register in steps of a litre; every fortieth building loses 30 L an hour from some day on.
_BUILDINGS = """
    SELECT 'B' || n AS device_id, t AS time,
        floor(1000 * (0.4 + n % 13 * 0.2) * (date_diff('day', TIMESTAMP '{began}', t) + {drawn})
        + CASE WHEN n % 40 = 7 THEN 30 * greatest(date_diff('hour', TIMESTAMP '{leak}'
            + to_days((n % 500)::INT), t), 0) ELSE 0 END) / 1000 AS value
    FROM instants, range({buildings}) buildings(n)
    WHERE minute(t) = 0
"""
_PRESSURES = """
    SELECT 'P' || z AS device_id, t AS time,
        45 - 5 * sin(hour(t) / 24.0 * 2 * pi()) + z % 7 AS value
    FROM instants, range(5, {zones}, 10) zones(z)
    WHERE minute(t) = 0
"""
_FLOORS = """
    SELECT 'W' || z AS device_id, t AS time,
        (date_diff('day', TIMESTAMP '{began}', t) % 97 = z % 97 AND hour(t) < 5)::DOUBLE AS value
    FROM instants, range(7, {zones}, 20) zones(z)
    WHERE minute(t) = 0
"""


def make(folder: Path, zones: int, days: int) -> None:
    """Layers of so many zones, some works, and so many days of readings, a file a month."""
    (folder / "readings").mkdir(parents=True)
    (folder / "district.toml").write_text(SETTINGS)
    names = ("pipes", "meters", "zones", "connections", "sensors", "sources", "valves")
    layers: dict[str, list[dict[str, Any]]] = {name: [] for name in names}
    for zone in range(zones):
        _add_zone(layers, zone)
    for name, features in layers.items():
        if features:
            write_layer(folder, name, features)
    works = [
        f"{BEGAN + timedelta(days=50 + z % 600)} 09:00,,flushing,Z{z},dead end"
        for z in range(0, zones, 5)
    ]
    (folder / "works.csv").write_text("\n".join(["start,end,kind,place_id,note", *works]) + "\n")
    first = BEGAN
    while first < BEGAN + timedelta(days=days):
        following = (first.replace(day=1) + timedelta(days=32)).replace(day=1)
        last = min(following, BEGAN + timedelta(days=days))
        write_days(folder, zones, first, last)
        first = last


def write_days(folder: Path, zones: int, first: date, last: date) -> Path:
    """The readings from the midnight (UTC) of one day to that of another, not included."""
    path = folder / f"readings/{first}.parquet"
    said = {
        "zones": zones,
        "buildings": zones * BUILDINGS,
        "began": BEGAN,
        "leak": BEGAN + timedelta(days=150),
        "drawn": _DRAWN,
    }
    parts = [part.format(**said) for part in (_ZONES, _BUILDINGS, _PRESSURES, _FLOORS)]
    with duckdb.connect(config={"threads": 1, "memory_limit": "1GB"}) as connection:
        connection.execute(
            f"CREATE TABLE instants AS SELECT t FROM range(TIMESTAMP '{first}', "
            f"TIMESTAMP '{last}', INTERVAL 15 MINUTE) instants(t)"
        )
        connection.execute(
            f"COPY ({' UNION ALL '.join(parts)}) TO '{path}' (FORMAT parquet, COMPRESSION zstd)"
        )
    return path


def _add_zone(layers: dict[str, list[dict[str, Any]]], zone: int) -> None:
    row, place = divmod(zone, 50)
    x, trunk = round(7 + 0.002 * (place + 1), 6), round(47 + _ROW * row, 6)
    if place == 0:
        layers["sources"].append(
            feature("Point", (round(x - 0.002, 6), trunk), source_id=f"S{row}", head_m=500)
        )
    _add_pipe(layers, (round(x - 0.002, 6), trunk), (x, trunk), 300)
    at = [(x, round(trunk + _STEP * (n + 1), 6)) for n in range(18)]
    _add_pipe(layers, (x, trunk), at[0], 150)
    for one, two in pairwise(at):
        _add_pipe(layers, one, two, 150)
    foot = (x, round(trunk + _STEP / 2, 6))
    meter = {"kind": "pulse", "litres_per_pulse": 10}
    layers["meters"].append(
        feature("Point", foot, meter_id=f"M{zone}", role="inlet", downstream=f"Z{zone}", **meter)
    )
    ends = []
    for n, (_, y) in enumerate(at[1:]):
        tip = (round(x + _STUB * (1 if n % 2 else -1), 6), y)
        _add_pipe(layers, (x, y), tip, 80)
        ends.append(tip)
    for n in range(BUILDINGS):
        tip_x, y = ends[n % len(ends)]
        tap = (round(x + (tip_x - x) * (0.5 + 0.3 * (n // len(ends))), 6), y)
        name = zone * BUILDINGS + n
        said = {"meter_id": f"B{name}", "building_id": f"H{name}"}
        layers["connections"].append(
            feature("Point", tap, connection_id=f"C{name}", properties=10 + n, **said)
        )
        layers["meters"].append(
            feature("Point", tap, meter_id=f"B{name}", role="building", kind="register")
        )
    if zone % 10 == 5:
        logger = {"sensor_id": f"P{zone}", "kind": "pressure", "elevation_m": 430}
        layers["sensors"].append(feature("Point", ends[0], **logger))
    if zone % 20 == 7:
        floor = {"sensor_id": f"W{zone}", "kind": "wet_floor", "building_id": f"H{zone * 20}"}
        layers["sensors"].append(feature("Point", ends[0], **floor))
    low, high, half = round(trunk + _STEP * 0.6, 6), round(trunk + _STEP * 19, 6), 0.0006
    corners = [
        (round(x - half, 6), low),
        (round(x + half, 6), low),
        (round(x + half, 6), high),
        (round(x - half, 6), high),
        (round(x - half, 6), low),
    ]
    layers["zones"].append(feature("Polygon", [corners], zone_id=f"Z{zone}", name=f"Zone {zone}"))


def _add_pipe(
    layers: dict[str, list[dict[str, Any]]],
    first: tuple[float, float],
    last: tuple[float, float],
    diameter_mm: int,
) -> None:
    number = len(layers["pipes"])
    pipe = {"pipe_id": f"P{number}", "material": "pvc", "diameter_mm": diameter_mm}
    layers["pipes"].append(feature("LineString", (first, last), installed_year=1980, **pipe))
