"""Map layers as people keep them: codes, units and dates nobody explains, and the sentence told."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio

from tests.bad_inputs.breakers import Breaker, both, drawn, more
from tests.bad_inputs.cases import Case
from tests.bad_inputs.small_folder import read_layer, write_layer

_PIPES = '[layers.pipes]\nfile = "pipes.geojson"\n'
_MATERIALS = (
    "cast_iron, ductile_iron, steel, asbestos_cement, pvc, polyethylene, concrete, grp, copper, "
    "lead, unknown"
)


def _column(layer: str, column: str, *values: Any) -> Breaker:
    """The values, in turn, in a column of a layer."""

    def write(folder: Path) -> None:
        features = read_layer(folder, layer)
        for n, one in enumerate(features):
            one["properties"][column] = values[n % len(values)]
        write_layer(folder, layer, features)

    return write


def _outline(places: list[tuple[float, float]]) -> Breaker:
    return drawn("zones", 0, "Polygon", [places])


def _site_grid(folder: Path) -> None:
    pipes = gpd.read_file(folder / "pipes.geojson")
    pipes.to_file(folder / "pipes.gpkg", driver="GPKG")
    (folder / "pipes.geojson").unlink()
    with sqlite3.connect(folder / "pipes.gpkg") as base:
        base.execute("UPDATE gpkg_geometry_columns SET srs_id = -1 WHERE table_name = 'pipes'")
        base.execute("UPDATE gpkg_contents SET srs_id = -1 WHERE table_name = 'pipes'")
    base.close()


def _two_layers(folder: Path) -> None:
    valves = gpd.read_file(folder / "valves.geojson")
    for name in ("north", "south"):
        pyogrio.write_dataframe(valves, folder / "valves.gpkg", layer=name)
    (folder / "valves.geojson").unlink()


CASES: tuple[Case, ...] = (
    Case(
        "mapping to an unknown material",
        more(_PIPES + '[layers.pipes.values.material]\n"12" = "iron"\n'),
        'district.toml, layers.pipes.values.material.12: got "iron", expected one of '
        f"{_MATERIALS}. Correct the value.",
    ),
    Case(
        "mapping of a column without codes",
        more(_PIPES + '[layers.pipes.values.diameter_mm]\n"A" = "100"\n'),
        "district.toml, layers.pipes.values.diameter_mm: got no such column, expected a column "
        "with codes in it (material, status). Correct the value.",
    ),
    Case(
        "mapping of an unknown column",
        more('[records.breaks]\nfile = "breaks.csv"\n[records.breaks.values.kinds]\nH = "main"\n'),
        "district.toml, records.breaks.values.kinds: got no such column, expected a column with "
        "codes in it (kind). Correct the value.",
    ),
    Case(
        "mapping to a number",
        more(_PIPES + '[layers.pipes.values.material]\n"12" = 4\n'),
        "district.toml, layers.pipes.values.material.12: got 4, expected text in quotation marks. "
        "Correct the value.",
    ),
    Case(
        "unknown CRS in the settings",
        more(_PIPES + 'crs = "British grid"\n'),
        'district.toml, layers.pipes.crs: got "British grid", expected a coordinate reference '
        'system such as "EPSG:27700". Correct the value.',
    ),
    Case(
        "unit of volume for a pressure",
        more('[layers.valves]\nfile = "valves.geojson"\nunits = {setting_m = "gal"}\n'),
        'district.toml, layers.valves.units: got setting_m = "gal", expected one of m, bar, kPa, '
        "psi, ft as unit of setting_m. Correct the value.",
    ),
    Case(
        "material nobody knows, in two pipes",
        _column("pipes", "material", "PB", "CI", "DI"),
        f'pipes.geojson, pipes P1 and P4, column material: got "PB", expected one of {_MATERIALS}. '
        "Correct it, or say under [layers.pipes.values.material] in district.toml what it means, "
        'as in "PB" = "unknown".',
    ),
    Case(
        "codes of the trade",
        _column("pipes", "material", "CI", "DI", "pvc"),
        'pipes.geojson, column material: got "CI", read as cast_iron; "DI", read as ductile_iron. '
        "Where one means something else, say so under [layers.pipes.values.material] in "
        "district.toml.",
    ),
    Case(
        "numbers for materials, one of them explained",
        both(
            _column("pipes", "material", 12, 13),
            more(_PIPES + '[layers.pipes.values.material]\n"12" = "cast_iron"\n'),
        ),
        f'pipes.geojson, pipes P2, P4 and P6, column material: got "13", expected one of '
        f"{_MATERIALS}. Correct it, or say under [layers.pipes.values.material] in district.toml "
        'what it means, as in "13" = "unknown".',
    ),
    Case(
        "zero and one for the state of a valve",
        _column("valves", "state", 1),
        'valves.geojson, valve V1, column state: got "1", expected one of open, shut. Correct it, '
        "or say under [layers.valves.values.state] in district.toml what it means, as in "
        '"1" = "open".',
    ),
    Case(
        "status nobody knows",
        _column("pipes", "status", "in use", "sleeping"),
        'pipes.geojson, pipes P2, P4 and P6, column status: got "sleeping", expected one of '
        "in_use, abandoned, planned. Correct it, or say under [layers.pipes.values.status] in "
        'district.toml what it means, as in "sleeping" = "in_use".',
    ),
    Case(
        "units that differ in a column",
        _column("pipes", "diameter_mm", '6"', "150mm", "100"),
        'pipes.geojson, column diameter_mm: got values in units of their own (in: 2, such as '
        '"6""; mm: 2, such as "150mm"), expected mm throughout. Each is read in the unit it '
        "names; check those that name none.",
    ),
    Case(
        "outside diameters of plastic pipe",
        _column("pipes", "diameter_mm", "110x6.6", "160x9.5"),
        'pipes.geojson, column diameter_mm: got 6 values such as "110x6.6", read as outside '
        "diameter and wall, expected inside diameter. The outside diameter less twice the wall is "
        "used; correct those that mean something else.",
    ),
    Case(
        "a bore that is none",
        _column("pipes", "diameter_mm", "110x6.6", "big", "100"),
        'pipes.geojson, pipe P2, column diameter_mm: got "big", expected a number in mm from 10 to '
        "3000. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "a bore of nothing",
        _column("pipes", "diameter_mm", 0, 100, -9999),
        "pipes.geojson, column diameter_mm: got -9999, 0 in 4 rows, taken as not known, expected a "
        "number in mm from 10 to 3000. Give the value where it is known.",
    ),
    Case(
        "vague years",
        _column("pipes", "installed_year", "1970s", "ca. 1950", 1980),
        "pipes.geojson, column installed_year: got 4 vague years (1970s and ca. 1950), taken as "
        "the year named or the middle of the span. Give the year where it is known.",
    ),
    Case(
        "years that stand for none",
        _column("pipes", "installed_year", "1900-01-01", "1980", "9999"),
        "pipes.geojson, column installed_year: got 1900-01-01 and 9999 in 4 rows, taken as not "
        "known. Give the year where it is known.",
    ),
    Case(
        "years counted in spreadsheet days",
        _column("pipes", "installed_year", 27181, 30000),
        "pipes.geojson, column installed_year: got numbers too large for years, read as "
        "spreadsheet days, expected a year. Check some of them against the years you know.",
    ),
    Case(
        "a year in words",
        _column("pipes", "installed_year", 1980, "after the war"),
        'pipes.geojson, pipe P2, column installed_year: got "after the war", expected a whole '
        "number from 1800 to 2100. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "a grid of the site",
        _site_grid,
        'pipes.gpkg: got only the grid "Undefined Cartesian SRS", expected one '
        "that says where on the earth the layer lies. Name it under [layers.pipes] in "
        'district.toml, as in crs = "EPSG:27700", or set it in your GIS and export again (a '
        "shapefile needs its .prj file).",
    ),
    Case(
        "an outline that crosses itself",
        _outline([(7.0, 46.9995), (7.0029, 47.0015), (7.0029, 46.9995), (7.0, 47.0015),
                  (7.0, 46.9995)]),
        "zones.geojson, zone A, column geometry: got an outline that crosses itself, expected an "
        "area. Correct the outline; the areas it encloses are taken.",
    ),
    Case(
        "two layers, none by its name",
        _two_layers,
        "valves.gpkg: got 2 layers, none called valves, expected one of north, south. Name the "
        "right one as layer under [layers.valves] in district.toml.",
    ),
)  # fmt: skip
