from __future__ import annotations

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import (
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    box,
)

from district.intake.geometry import check_shapes, from_wkb, metric_crs, stated_crs, to_crs

WGS84 = pyproj.CRS("EPSG:4326")
LINE = LineString([(7.0, 47.0), (7.01, 47.0)])


def checked(shapes: list[object], shape: str, crs: pyproj.CRS = WGS84) -> tuple[list[bool], list]:
    array = np.array([*shapes, None], dtype=object)[:-1]
    kept, findings = check_shapes(
        array,
        np.zeros(len(array), dtype=bool),
        shape=shape,  # type: ignore[arg-type]
        crs=crs,
        source="p",
        place=lambda i: f"feature {i + 1}",
    )
    return [s is not None for s in kept], [(f.place, f.got) for f in findings]


def test_a_collection_of_one_part_counts_as_it() -> None:
    assert checked([MultiLineString([LINE]), LINE], "LineString") == ([True, True], [])
    assert checked([MultiPoint([(7, 47)])], "Point") == ([True], [])


def test_each_unusable_shape_is_told_with_its_place() -> None:
    far = LineString([(7, 47), (np.inf, 47)])
    lines = MultiLineString([LINE, LINE])
    kept, told = checked([LINE, None, LineString(), Point(7, 47), lines, far], "LineString")
    assert kept == [True, False, False, False, False, False]
    assert told == [
        ("feature 2", "no geometry"),
        ("feature 3", "an empty geometry"),
        ("feature 4", "a point"),
        ("feature 5", "2 lines in one feature"),
        ("feature 6", "an infinite or missing coordinate"),
    ]


@pytest.mark.parametrize(
    ("point", "crs", "inside"),
    [
        ((7.0, 47.0), "EPSG:4326", True),
        ((190.0, 47.0), "EPSG:4326", False),
        ((571234.0, 5205678.0), "EPSG:4326", False),
        ((571234.0, 5205678.0), "EPSG:32632", True),
        ((7.0, 47.0), "EPSG:32632", False),
        ((2600000.0, 1200000.0), "EPSG:2056", True),
        ((600000.0, 200000.0), "EPSG:2056", False),
    ],
)
def test_the_reach_of_a_crs(point: tuple[float, float], crs: str, inside: bool) -> None:
    kept, _ = checked([Point(point)], "Point", pyproj.CRS(crs))
    assert kept == [inside]


def test_metres_are_kept_only_where_they_are_true() -> None:
    place = gpd.GeoSeries([LINE], crs=WGS84)

    def chosen(crs: str) -> int | None:
        known = pyproj.CRS(crs)
        shapes = np.array(list(place.to_crs(known)), dtype=object)
        return metric_crs(shapes, known).to_epsg()

    assert chosen("EPSG:2056") == 2056
    assert chosen("EPSG:32632") == 32632
    assert chosen("EPSG:4326") == 32632
    # Drawn for web pages 'in metres', 47 % too long at this latitude.
    assert chosen("EPSG:3857") == 32632
    assert chosen("EPSG:2264") == 32632


def test_lengths_are_geodesic_lengths() -> None:
    metric = metric_crs(np.array([LINE], dtype=object), WGS84)
    placed = to_crs(np.array([LINE, None], dtype=object), WGS84, metric)
    true_m = pyproj.Geod(ellps="WGS84").geometry_length(LINE)
    assert placed[0].length == pytest.approx(true_m, rel=4e-4)
    assert placed[1] is None


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        ("(0 0, 1 0), (1 0, 2 1)", "LINESTRING (0 0, 1 0, 2 1)"),
        ("(0 0 5, 1 0 5), (2 1 7, 1 0 5)", "LINESTRING (0 0, 1 0, 2 1)"),
        ("(0 0, 1 0)", "LINESTRING (0 0, 1 0)"),
        ("(0 0, 1 0), (1.1 0, 2 1)", "MULTILINESTRING ((0 0, 1 0), (1.1 0, 2 1))"),
        (
            "(0 0, 1 0), (1 0, 2 1), (1 0, 2 -1)",
            "MULTILINESTRING ((0 0, 1 0), (1 0, 2 1), (1 0, 2 -1))",
        ),
    ],
)
def test_a_line_in_parts_that_join_is_one_line(parts: str, whole: str) -> None:
    kind = "MULTILINESTRING Z" if " 5," in parts else "MULTILINESTRING"
    wkb = shapely.to_wkb(shapely.from_wkt([f"{kind} ({parts})"]))
    shapes, _ = from_wkb(wkb)
    assert shapes[0].equals(shapely.from_wkt(whole))
    assert shapes[0].geom_type == shapely.from_wkt(whole).geom_type
    assert not shapes[0].has_z


def test_what_cannot_be_decoded_is_marked() -> None:
    one_point = bytes.fromhex("010200000001000000" + "00" * 16)
    wkb = np.array([shapely.to_wkb(Point(1, 2, 3)), one_point, None], dtype=object)
    shapes, broken = from_wkb(wkb)
    assert broken.tolist() == [False, True, False]
    assert not shapes[0].has_z


def test_metres_are_true_near_the_pole_too() -> None:
    line = LineString([(20.0, 88.0), (20.1, 88.001)])
    metric = metric_crs(np.array([line], dtype=object), WGS84)
    (placed,) = to_crs(np.array([line], dtype=object), WGS84, metric)
    assert placed.length == pytest.approx(
        pyproj.Geod(ellps="WGS84").geometry_length(line), rel=1e-6
    )


def areas(*shapes: object) -> tuple[list[object], list[tuple[str, str, str]]]:
    kept, findings = check_shapes(
        np.array([*shapes, None], dtype=object)[:-1],
        np.zeros(len(shapes), dtype=bool),
        shape="Polygon",
        crs=WGS84,
        source="z",
        place=lambda i: f"zone {i}",
    )
    return list(kept), [(f.severity, f.place, f.got) for f in findings]


def test_areas_may_have_parts_and_closed_lines_enclose_one() -> None:
    square = box(7, 47, 7.1, 47.1)
    two = MultiPolygon([square, box(7.2, 47, 7.3, 47.1)])
    kept, told = areas(square, two, square.exterior, LineString(square.exterior.coords))
    assert told == []
    assert kept[0].equals(square)
    assert kept[1].equals(two)
    assert kept[3].equals(square)
    _, told = areas(LINE)
    assert told == [("error", "zone 0", "a line")]


def test_an_outline_that_crosses_itself_is_told_and_taken_as_what_it_encloses() -> None:
    bow_tie = Polygon([(7, 47), (7.1, 47.1), (7.1, 47), (7, 47.1)])
    (kept,), told = areas(bow_tie)
    assert told == [("warning", "zone 0", "an outline that crosses itself")]
    assert kept.is_valid
    # Two triangles, each a quarter of the square around them.
    assert kept.area == pytest.approx(0.1 * 0.1 / 2)


def test_the_owner_of_a_layer_may_say_its_crs() -> None:
    kept = stated_crs(WGS84, "", source="p", table="pipes")
    assert kept == (WGS84, [])
    said, findings = stated_crs(None, "EPSG:27700", source="p", table="pipes")
    assert (said, findings) == (pyproj.CRS("EPSG:27700"), [])
    said, findings = stated_crs(WGS84, "EPSG:27700", source="p", table="pipes")
    assert (said, findings) == (pyproj.CRS("EPSG:27700"), [])


@pytest.mark.parametrize("crs", [None, pyproj.CRS('LOCAL_CS["site",UNIT["metre",1]]')])
def test_without_a_place_on_earth_the_mend_is_told(crs: pyproj.CRS | None) -> None:
    said, (finding,) = stated_crs(crs, "", source="p.dxf", table="pipes")
    got = "no coordinate reference system" if crs is None else 'only the grid "site"'
    assert said is None
    assert finding.sentence() == (
        f"p.dxf: got {got}, expected one that says where on the earth the layer lies. Name it "
        'under [layers.pipes] in district.toml, as in crs = "EPSG:27700", or set it in your GIS '
        "and export again (a shapefile needs its .prj file)."
    )
