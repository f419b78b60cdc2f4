from __future__ import annotations

import warnings
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyproj
import pytest
from shapely.geometry import LineString, MultiLineString, Point, Polygon

from district.intake import read_layers
from district.schema.inputs import LAYERS, NEEDED_LAYERS
from district.settings import Layer, Settings

WGS84 = "EPSG:4326"
START, END = (7.0, 47.0), (7.002, 47.001)


def pipes(**columns: object) -> gpd.GeoDataFrame:
    lines = [LineString([START, END]), MultiLineString([LineString([END, (7.003, 47.001)])])]
    frame = {"pipe_id": ["P1", "P2"], **columns}
    return gpd.GeoDataFrame(frame, geometry=lines, crs=WGS84)


def others(folder: Path, crs: str = WGS84) -> None:
    point = Point(START)
    area = Polygon([(6.9, 46.9), (7.1, 46.9), (7.1, 47.1)])
    for name, columns, shape in (
        ("meters", {"meter_id": [1], "role": ["Inlet"]}, point),
        ("zones", {"zone_id": ["A"]}, area),
        ("connections", {"connection_id": ["C1"]}, point),
        ("sources", {"source_id": ["S1"]}, point),
    ):
        frame = gpd.GeoDataFrame(columns, geometry=[shape], crs=WGS84).to_crs(crs)
        frame.to_file(folder / f"{name}.gpkg")


def test_everything_comes_out_in_declared_form(tmp_path: Path) -> None:
    pipes(material=["Ductile Iron", None]).to_file(tmp_path / "pipes.geojson")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.findings == ()
    for table in LAYERS:
        frame = getattr(inputs, table.name)
        assert tuple(frame.columns) == table.names()
        assert frame.crs == pyproj.CRS("EPSG:32632")
        assert list(frame.index) == list(range(len(frame)))
    assert inputs.pipes["material"].tolist() == ["ductile_iron", "unknown"]
    assert inputs.pipes.geometry.geom_type.tolist() == ["LineString", "LineString"]
    assert inputs.meters["meter_id"].tolist() == ["1"]
    assert inputs.zones["name"].tolist() == ["A"]
    assert inputs.files["pipes"] == "pipes.geojson"
    assert tuple(inputs.defaults.columns) == ("table", "column", "rows_count", "value")
    told = inputs.defaults.set_index(["table", "column"])["rows_count"]
    assert told["pipes", "material"] == 1
    assert told["pipes", "length_m"] == 2
    assert told["zones", "name"] == 1


def test_the_crs_of_each_layer_is_its_own(tmp_path: Path) -> None:
    pipes().to_crs("EPSG:2056").to_file(tmp_path / "pipes.gpkg")
    others(tmp_path, "EPSG:3857")
    inputs = read_layers(tmp_path, Settings())
    assert inputs.pipes.crs == pyproj.CRS("EPSG:2056")
    first = Point(inputs.pipes.geometry[0].coords[0])
    assert inputs.sources.geometry[0].distance(first) < 0.01


def test_lengths_are_measured_or_compared(tmp_path: Path) -> None:
    true_m = pyproj.Geod(ellps="WGS84").geometry_length(LineString([START, END]))
    pipes(length_m=[None, 120.0]).to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.pipes["length_m"][0] == pytest.approx(true_m, rel=1e-3)
    assert inputs.pipes["length_m"][1] == 120.0
    assert [f.sentence() for f in inputs.findings] == [
        "pipes.gpkg, pipe P2, column length_m: got 120 m, expected about the 76 m drawn on the "
        "map. Correct whichever is wrong; the stated length is used."
    ]


def test_a_small_difference_of_length_is_let_be(tmp_path: Path) -> None:
    pipes(length_m=[188.0, 80.0]).to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    assert read_layers(tmp_path, Settings()).findings == ()


def test_the_users_names_and_units(tmp_path: Path) -> None:
    pipes(bore=[4.0, 6.0]).to_file(tmp_path / "mains.gpkg", layer="Mains")
    others(tmp_path)
    layer = Layer(file="mains.gpkg", columns={"diameter_mm": "bore"}, units={"diameter_mm": "in"})
    inputs = read_layers(tmp_path, Settings(layers={"pipes": layer}))
    assert inputs.findings == ()
    assert inputs.pipes["diameter_mm"].tolist() == pytest.approx([101.6, 152.4])


def test_one_file_for_all_layers(tmp_path: Path) -> None:
    pipes().to_file(tmp_path / "network.gpkg", layer="pipes")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.findings == ()
    assert inputs.files["pipes"] == "network.gpkg"


def test_shapefiles_with_cut_names(tmp_path: Path) -> None:
    frame = pipes(diameter_m=[100, 200], installed_=[1970, 1980])
    frame.to_file(tmp_path / "pipes.shp")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.findings == ()
    assert inputs.pipes["installed_year"].tolist() == [1970, 1980]


def test_an_empty_folder_gives_empty_tables_and_all_findings(tmp_path: Path) -> None:
    inputs = read_layers(tmp_path, Settings())
    assert [f.source for f in inputs.findings] == list(NEEDED_LAYERS)
    for table in LAYERS:
        assert len(getattr(inputs, table.name)) == 0
        assert tuple(getattr(inputs, table.name).columns) == table.names()


def test_a_feature_without_place_keeps_its_row(tmp_path: Path) -> None:
    frame = pipes()
    frame.loc[1, "geometry"] = None
    frame.loc[1, "pipe_id"] = None
    frame.to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert [(f.place, f.column) for f in inputs.findings] == [
        ("feature 2", "pipe_id"),
        ("feature 2", "geometry"),
    ]
    assert len(inputs.pipes) == 2
    assert inputs.pipes.geometry.isna().tolist() == [False, True]


def test_a_table_without_geometry_is_no_layer(tmp_path: Path) -> None:
    import pyogrio

    pyogrio.write_dataframe(pd.DataFrame({"pipe_id": ["P1"]}), tmp_path / "pipes.gpkg")
    others(tmp_path)
    (finding,) = read_layers(tmp_path, Settings()).findings
    assert finding.got == "a table without geometry"


def test_a_defect_repeated_is_told_once(tmp_path: Path) -> None:
    many = pd.concat([pipes()] * 5, ignore_index=True)
    many["pipe_id"] = [f"P{i}" for i in range(10)]
    many["diameter_mm"] = -1.0
    many.to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    (finding,) = read_layers(tmp_path, Settings()).findings
    assert finding.place == "pipes P0, P1, P2 and 7 more"


def test_a_crs_in_the_settings_stands_in_for_one_the_file_lacks(tmp_path: Path) -> None:
    drawn = pipes().to_crs("EPSG:2056")
    lines = drawn.explode().set_crs(None, allow_override=True)
    with warnings.catch_warnings():
        # That a drawing has no CRS is the point.
        warnings.simplefilter("ignore", UserWarning)
        lines.rename(columns={"pipe_id": "Layer"}).to_file(tmp_path / "a.dxf", driver="DXF")
    others(tmp_path)
    layer = Layer(file="a.dxf", crs="EPSG:2056", columns={"pipe_id": "EntityHandle"})
    inputs = read_layers(tmp_path, Settings(layers={"pipes": layer}))
    assert inputs.findings == ()
    assert inputs.pipes.crs == pyproj.CRS("EPSG:2056")
    assert inputs.pipes["pipe_id"].is_unique
    lengths = inputs.pipes.geometry.length.to_numpy()
    assert lengths == pytest.approx(lines.geometry.length.to_numpy(), rel=1e-6)


def test_feet_of_a_grid_become_metres(tmp_path: Path) -> None:
    west, south = -74.0, 40.75
    line = LineString([(west, south), (west + 0.002, south + 0.001)])
    frame = gpd.GeoDataFrame({"pipe_id": ["P1"]}, geometry=[line], crs=WGS84)
    # New York's grid is in feet: the drawn length there is more than three times the metres.
    frame.to_crs("EPSG:2263").to_file(tmp_path / "pipes.gpkg")
    inputs = read_layers(tmp_path, Settings())
    true_m = pyproj.Geod(ellps="WGS84").geometry_length(line)
    assert inputs.pipes["length_m"][0] == pytest.approx(true_m, rel=1e-3)
    assert inputs.pipes.crs == pyproj.CRS("EPSG:32618")


def test_a_table_of_styles_beside_the_layer_does_not_matter(tmp_path: Path) -> None:
    import pyogrio

    pipes().to_file(tmp_path / "pipes.gpkg", layer="mains")
    styles = pd.DataFrame({"style": ["x"]})
    pyogrio.write_dataframe(styles, tmp_path / "pipes.gpkg", layer="layer_styles")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.findings == ()
    assert len(inputs.pipes) == 2


def test_what_is_not_understood_uses_the_default_and_says_so(tmp_path: Path) -> None:
    pipes(material=["wood", "n/a"]).to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    inputs = read_layers(tmp_path, Settings())
    assert inputs.pipes["material"].tolist() == ["unknown", "unknown"]
    (finding,) = inputs.findings
    assert (finding.severity, finding.place, finding.got) == ("warning", "pipe P1", '"wood"')
    told = inputs.defaults.set_index(["table", "column"])["rows_count"]
    assert told["pipes", "material"] == 2


def test_streets_are_read_where_there_are_some(tmp_path: Path) -> None:
    pipes().to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    assert read_layers(tmp_path, Settings()).streets.empty
    lines = [LineString([START, END]), LineString([END, (7.01, 47.0)])]
    roads = gpd.GeoDataFrame({"NAME": ["a", "b"]}, geometry=lines, crs=WGS84)
    roads.to_file(tmp_path / "roads.geojson")
    said = Layer(file="roads.geojson", columns={"street_id": "NAME"})
    inputs = read_layers(tmp_path, Settings(layers={"streets": said}))
    assert inputs.findings == ()
    assert inputs.streets["street_id"].tolist() == ["a", "b"]
    assert inputs.streets.crs == inputs.pipes.crs


def test_breaks_by_place_are_given_to_their_pipes(tmp_path: Path) -> None:
    pipes().to_file(tmp_path / "pipes.gpkg")
    others(tmp_path)
    (lon, lat) = (START[0] + END[0]) / 2, (START[1] + END[1]) / 2
    (tmp_path / "breaks.csv").write_text(
        f"date,longitude_deg,latitude_deg\n2020-01-01,{lon},{lat}\n2020-01-02,{lon},{lat + 1}\n"
    )
    inputs = read_layers(tmp_path, Settings())
    assert inputs.breaks["pipe_id"].notna().tolist() == [True, False]
    assert [f.place for f in inputs.findings] == ["row of 2020-01-02"]
