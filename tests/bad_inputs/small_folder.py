"""A small district folder without a flaw, to be broken: six pipes, two zones, three days."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

SETTINGS = """\
[district]
name = "Small"
timezone = "Europe/Zurich"

[[readings]]
files = "readings/zones.csv"

[[readings]]
files = "readings/others.csv"
layout = "wide"
"""
Place = tuple[float, float]


def make_folder(folder: Path) -> Path:
    """Write the layers, records, readings and settings into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "readings").mkdir()
    for name, features in _layers().items():
        write_layer(folder, name, features)
    (folder / "works.csv").write_text(
        "start,end,kind,place_id,note\n2025-03-11 10:00,2025-03-11 11:00,flushing,A,dead end\n"
    )
    (folder / "breaks.csv").write_text("date,pipe_id,kind\n2019-02-03,P3,main\n")
    (folder / "district.toml").write_text(SETTINGS)
    zones, others = ["device_id,time,value"], ["time,CM1,PL1,WF1"]
    register = 1200.0
    for hour in range(73):
        time = f"2025-03-{10 + hour // 24} {hour % 24:02d}:00"
        wave = 1 + math.sin(hour / 4)
        zones += [f"MA,{time},{1.5 + 0.4 * wave + 0.01 * (hour % 7):.2f}"]
        zones += [f"MB,{time},{120 + round(40 * wave) + hour % 5}"]
        register += round(0.02 + 0.03 * wave, 3)
        others += [f"{time},{register:.3f},{48 - 3 * wave:.1f},0"]
    (folder / "readings/zones.csv").write_text("\n".join(zones) + "\n")
    (folder / "readings/others.csv").write_text("\n".join(others) + "\n")
    return folder


def write_layer(folder: Path, name: str, features: list[dict[str, Any]]) -> None:
    """A GeoJSON file of features."""
    layer = {"type": "FeatureCollection", "features": features}
    (folder / f"{name}.geojson").write_text(json.dumps(layer))


def read_layer(folder: Path, name: str) -> list[dict[str, Any]]:
    """The features of a GeoJSON file."""
    features: list[dict[str, Any]] = json.loads((folder / f"{name}.geojson").read_text())[
        "features"
    ]
    return features


def feature(kind: str, places: Any, /, **columns: Any) -> dict[str, Any]:
    """One GeoJSON feature."""
    geometry = {"type": kind, "coordinates": places}
    return {"type": "Feature", "geometry": geometry, "properties": columns}


def _layers() -> dict[str, list[dict[str, Any]]]:
    source, inlet, corner = (7.000, 47.0), (7.001, 47.0), (7.002, 47.0)
    north, border, bend, far = (7.002, 47.001), (7.003, 47.0), (7.004, 47.0), (7.004, 47.001)
    lines = [(source, inlet), (inlet, corner), (corner, north)]
    lines += [(corner, border), (border, bend), (bend, far)]
    return {
        "pipes": [
            feature(
                "LineString",
                line,
                pipe_id=f"P{i}",
                material=("ductile_iron", "pvc")[i % 2],
                diameter_mm=100 + 25 * (i % 3),
                installed_year=1960 + 8 * i,
            )
            for i, line in enumerate(lines, start=1)
        ],
        "valves": [
            _point((7.002, 47.0005), valve_id="V1", kind="isolation", state="open", operable=True)
        ],
        "meters": [
            _point(
                inlet,
                meter_id="MA",
                role="inlet",
                downstream="A",
                kind="electromagnetic",
                reading_unit="l/s",
            ),
            _point(
                border,
                meter_id="MB",
                role="transfer",
                downstream="B",
                kind="pulse",
                litres_per_pulse=10,
            ),
            _point(north, meter_id="CM1", role="customer", kind="register"),
        ],
        "zones": [
            feature("Polygon", _box(7.0011, 7.0029), zone_id="A", name="Upper"),
            feature("Polygon", _box(7.0031, 7.0045), zone_id="B", name="Lower", parent_id="A"),
        ],
        "connections": [
            _point(north, connection_id="C1", meter_id="CM1", properties=4),
            _point((7.0015, 47.0), connection_id="C2", properties=2),
            _point((7.0035, 47.0), connection_id="C3", properties=3),
            _point(far, connection_id="C4", properties=5),
        ],
        "sensors": [
            _point(north, sensor_id="PL1", kind="pressure", elevation_m=431),
            _point(far, sensor_id="WF1", kind="wet_floor"),
        ],
        "sources": [_point(source, source_id="S1", head_m=490)],
    }


def _point(place: Place, /, **columns: Any) -> dict[str, Any]:
    return feature("Point", place, **columns)


def _box(west: float, east: float) -> list[list[Place]]:
    south, north = 46.9995, 47.0015
    return [[(west, south), (east, south), (east, north), (west, north), (west, south)]]
