"""A district folder around the ten open areas: a trunk, and one metered zone for each."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.bad_inputs.small_folder import feature, write_layer

AREAS = tuple(f"DMA{i}" for i in range(1, 11))
SETTINGS = """\
[district]
name = "Ten areas"
timezone = "Europe/Rome"

[[readings]]
files = "readings/*.csv"
layout = "wide"
stamp = "start"
columns = {time = "time_local"}
"""


def make_open_folder(folder: Path, readings: Path) -> Path:
    """Write the layers (places invented) and settings, and copy the readings, into `folder`."""
    folder.mkdir(parents=True)
    (folder / "readings").mkdir()
    shutil.copy(readings, folder / "readings" / "inflow.csv")
    (folder / "district.toml").write_text(SETTINGS)
    south, meter, north = 44.800, 44.801, 44.803
    ends = [(11.600 + 0.002 * i, south) for i in range(len(AREAS) + 1)]
    tees = ends[1:]
    trunk = [
        feature("LineString", [a, b], pipe_id=f"T{i}", diameter_mm=500)
        for i, (a, b) in enumerate(zip(ends[:-1], tees, strict=True))
    ]
    branches = [
        feature("LineString", [(x, south), (x, north)], pipe_id=f"P{i}", diameter_mm=400)
        for i, (x, _) in enumerate(tees)
    ]
    places = list(zip(AREAS, (x for x, _ in tees), strict=True))
    layers = {
        "pipes": trunk + branches,
        "sources": [feature("Point", ends[0], source_id="S", head_m=90)],
        "meters": [
            feature(
                "Point",
                (x, meter),
                meter_id=area,
                role="inlet",
                downstream=area,
                kind="electromagnetic",
                reading_unit="l/s",
            )
            for area, x in places
        ],
        "zones": [
            feature(
                "Polygon",
                [[(x + dx, y) for dx, y in _CORNERS]],
                zone_id=area,
            )
            for area, x in places
        ],
        "connections": [
            feature("Point", (x, 44.802), connection_id=f"C-{area}", properties=500)
            for area, x in places
        ],
    }
    for name, features in layers.items():
        write_layer(folder, name, features)
    return folder


_CORNERS = (
    (-0.0008, 44.8012), (0.0008, 44.8012), (0.0008, 44.8035), (-0.0008, 44.8035),
    (-0.0008, 44.8012),
)  # fmt: skip
