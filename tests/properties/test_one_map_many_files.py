"""One map in every format, coordinate system, unit and coding is read as one and the same."""

from __future__ import annotations

import shutil
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from district.intake import read_layers
from district.results import Inputs
from district.schema.inputs import LAYERS
from district.settings import Settings

WEST, SOUTH = 7.0, 47.0
"""A place that a national grid in metres, one in true feet and a web map all reach."""
FEET = "+proj=tmerc +lat_0=46 +lon_0=7 +x_0=200000 +y_0=0 +datum=WGS84 +units=ft +type=crs"
INCH_MM = 25.4
FOOT_M = 0.3048
NUMBERS = {"cast_iron": 1, "ductile_iron": 2, "pvc": 3, "polyethylene": 4}


class Way(NamedTuple):
    """How the map is kept."""

    suffix: str
    driver: str
    crs: str
    write: Callable[[pd.DataFrame], pd.DataFrame]
    settings: dict[str, Any]


def truth() -> gpd.GeoDataFrame:
    corners = [(WEST + 0.001 * n, SOUTH + 0.0005 * (n % 2)) for n in range(5)]
    lines = [LineString(corners[n : n + 2]) for n in range(4)]
    columns = {
        "pipe_id": ["P1", "P2", "P3", "P4"],
        "material": list(NUMBERS),
        "diameter_mm": [6 * INCH_MM, 4 * INCH_MM, 8 * INCH_MM, 12 * INCH_MM],
        "installed_year": [1931, 1974, 1988, 2004],
        "length_m": [FOOT_M * n for n in (300, 305, 310, 315)],
        "status": ["in_use", "in_use", "abandoned", "planned"],
    }
    return gpd.GeoDataFrame(columns, geometry=lines, crs="EPSG:4326")


def as_it_is(frame: pd.DataFrame) -> pd.DataFrame:
    return frame


def codes_and_inches(frame: pd.DataFrame) -> pd.DataFrame:
    short = {"cast_iron": "CI", "ductile_iron": "DI", "pvc": "uPVC", "polyethylene": "MDPE"}
    return frame.assign(
        material=frame["material"].map(short),
        diameter_mm=[f'{d / INCH_MM:.0f}"' for d in frame["diameter_mm"]],
        length_m=[f"{m / FOOT_M:.0f} ft" for m in frame["length_m"]],
        installed_year=[f"{y}-06-01T00:00:00" for y in frame["installed_year"]],
        status=["Active", "IN SERVICE", "Retired", "Proposed"],
    )


def numbers_and_units_said(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(
        material=frame["material"].map(NUMBERS),
        diameter_mm=frame["diameter_mm"] / INCH_MM,
        length_m=frame["length_m"] / FOOT_M,
        installed_year=[pd.Timestamp(y, 6, 1) for y in frame["installed_year"]],
        status=["1", "1", "0", "2"],
    )


def other_words_and_commas(frame: pd.DataFrame) -> pd.DataFrame:
    words = {
        "cast_iron": "Grauguss",
        "ductile_iron": "duktiles Gusseisen",
        "pvc": "PVC-U",
        "polyethylene": "PE-HD",
    }
    return frame.assign(
        material=frame["material"].map(words),
        diameter_mm=[f"{d:.1f} mm".replace(".", ",") for d in frame["diameter_mm"]],
        length_m=[f"{m:.2f}".replace(".", ",") for m in frame["length_m"]],
        installed_year=[f"06/{y}" for y in frame["installed_year"]],
        status=["in Betrieb", "Bestand", "stillgelegt", "geplant"],
    )


SAID = {
    "units": {"diameter_mm": "in", "length_m": "ft"},
    "values": {
        "material": {str(number): name for name, number in NUMBERS.items()},
        "status": {"0": "abandoned", "1": "in_use", "2": "planned"},
    },
}
WAYS = (
    Way(".gpkg", "GPKG", "EPSG:2056", codes_and_inches, {}),
    Way(".geojson", "GeoJSON", "EPSG:4326", other_words_and_commas, {}),
    Way(".geojson", "GeoJSON", "EPSG:2056", numbers_and_units_said, SAID),
    Way(".shp", "ESRI Shapefile", "EPSG:3857", numbers_and_units_said, SAID),
    Way(".shp", "ESRI Shapefile", "EPSG:2056", other_words_and_commas, {}),
    Way(".zip", "ESRI Shapefile", "EPSG:32632", codes_and_inches, {}),
    Way(".fgb", "FlatGeobuf", FEET, other_words_and_commas, {}),
    Way(".gml", "GML", "EPSG:32632", codes_and_inches, {}),
    Way(".kml", "LIBKML", "EPSG:4326", codes_and_inches, {}),
    Way(".tab", "MapInfo File", "EPSG:32632", other_words_and_commas, {}),
    Way(".mif", "MapInfo File", "EPSG:32632", codes_and_inches, {}),
    Way(".sqlite", "SQLite", "EPSG:3857", numbers_and_units_said, SAID),
    Way(".gdb", "OpenFileGDB", "EPSG:2056", numbers_and_units_said, SAID),
    Way(".parquet", "", FEET, numbers_and_units_said, SAID),
)


def kept(folder: Path, way: Way) -> Inputs:
    """The map as `way` keeps it, its other layers in one file beside it, read."""
    folder.mkdir()
    true = truth()
    lines = true.to_crs(way.crs)
    frame = gpd.GeoDataFrame(
        way.write(pd.DataFrame(lines.drop(columns="geometry"))), geometry=lines.geometry
    )
    # Names cut to ten letters and in capitals, as a shapefile would have them.
    frame.columns = [c if c == "geometry" else c[:10].upper() for c in frame.columns]
    name = f"MAINS{way.suffix}"
    columns = {c: c[:10].upper() for c in true.columns if c != "geometry"}
    with warnings.catch_warnings():
        # Remarks on what a format cannot keep; what is kept is compared below.
        warnings.simplefilter("ignore")
        if way.suffix == ".parquet":
            frame.to_parquet(folder / name)
        elif way.suffix == ".zip":
            (folder / "in").mkdir()
            pyogrio.write_dataframe(frame, folder / "in/MAINS.shp", driver=way.driver)
            shutil.make_archive(str(folder / "MAINS"), "zip", folder, "in")
        else:
            pyogrio.write_dataframe(frame, folder / name, driver=way.driver)
    others(folder)
    layer = {"file": name, "columns": columns, **way.settings}
    return read_layers(folder, Settings.model_validate({"layers": {"pipes": layer}}))


def others(folder: Path) -> None:
    spot = Point(WEST, SOUTH)
    for name, columns, shape in (
        ("meters", {"meter_id": ["M1"], "role": ["inlet"]}, spot),
        ("zones", {"zone_id": ["A"]}, box(WEST - 0.1, SOUTH - 0.1, WEST + 0.1, SOUTH + 0.1)),
        ("connections", {"connection_id": ["C1"]}, spot),
        ("sources", {"source_id": ["S1"]}, spot),
    ):
        frame = gpd.GeoDataFrame(columns, geometry=[shape], crs="EPSG:4326")
        frame.to_file(folder / "network.gpkg", layer=name)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    way = Way(".gpkg", "GPKG", "EPSG:2056", as_it_is, {})
    read = kept(tmp_path_factory.mktemp("plain") / "map", way)
    assert read.findings == ()
    return read


@pytest.mark.parametrize("way", WAYS, ids=lambda w: f"{w.suffix} {w.crs[:10]} {w.write.__name__}")
def test_every_way_of_keeping_a_map_gives_the_same_inputs(
    way: Way, plain: Inputs, tmp_path: Path
) -> None:
    read = kept(tmp_path / "map", way)
    assert {f.severity for f in read.findings} <= {"note"}, read.findings
    for table in LAYERS:
        ours, theirs = getattr(plain, table.name), getattr(read, table.name)
        if table.name == "pipes":
            ours, theirs = (f.sort_values("pipe_id", ignore_index=True) for f in (ours, theirs))
        pd.testing.assert_frame_equal(
            pd.DataFrame(theirs.drop(columns="geometry")),
            pd.DataFrame(ours.drop(columns="geometry")),
            check_exact=False,
            rtol=1e-4,
        )
        for mine, other in zip(ours.geometry, theirs.geometry.to_crs(ours.crs), strict=True):
            assert far(mine, other) < 0.02
    assert read.pipes.crs.axis_info[0].unit_conversion_factor == 1.0


def far(one: BaseGeometry, other: BaseGeometry) -> float:
    """How far the shapes lie apart, metres."""
    return float(one.hausdorff_distance(other))
