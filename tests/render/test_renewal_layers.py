from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import pyogrio
import pytest
from shapely.geometry import LineString, MultiLineString

from district.render.renewal_layers import write_renewal_layers
from district.schema.renewal_tables import RENEWAL_PIPES, RENEWAL_PROJECTS
from tests.render.made_renewal import CRS, bare, made

PLAN = made()


def test_every_input_of_every_pipe_and_the_list_as_multi_lines(tmp_path):
    path = write_renewal_layers(PLAN, tmp_path / "a.gpkg")
    shapes = dict(pyogrio.list_layers(path))
    assert shapes == {"renewal_pipes": "LineString", "renewal_projects": "MultiLineString"}
    pipes = gpd.read_file(path, layer="renewal_pipes")
    assert set(pipes.columns) == {*RENEWAL_PIPES.names(), "geometry"}
    assert list(pipes["pipe_id"]) == list(PLAN.pipes["pipe_id"])
    assert pipes.crs.to_epsg() == int(CRS.split(":")[1])
    works = gpd.read_file(path, layer="renewal_projects")
    assert set(works.columns) == {*RENEWAL_PROJECTS.names(), "geometry"}
    lines = PLAN.lines.set_index("pipe_id").geometry
    for row in works.itertuples():
        own = lines.loc[str(row.pipe_ids).split(", ")]
        assert row.geometry.length == pytest.approx(own.length.sum())
        assert len(row.geometry.geoms) == row.pipes_count


def test_the_same_bytes_whatever_the_day(tmp_path):
    one, other = (write_renewal_layers(PLAN, tmp_path / n) for n in ("a.gpkg", "b.gpkg"))
    assert one.read_bytes() == other.read_bytes()


def test_no_works_and_a_line_of_several_parts(tmp_path):
    shape = MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])
    lines = PLAN.lines.copy()
    lines.loc[[0], "geometry"] = gpd.GeoSeries([shape], crs=CRS)
    path = write_renewal_layers(replace(bare(), lines=lines), tmp_path / "a.gpkg")
    pipes = gpd.read_file(path, layer="renewal_pipes")
    assert set(pipes.geom_type) == {"MultiLineString"}
    assert pipes.geometry.iloc[0].equals(shape)
    assert len(gpd.read_file(path, layer="renewal_projects")) == 0


def test_a_pipe_without_a_line_keeps_its_row(tmp_path):
    path = write_renewal_layers(replace(PLAN, lines=PLAN.lines.iloc[1:]), tmp_path / "a.gpkg")
    pipes = gpd.read_file(path, layer="renewal_pipes")
    assert len(pipes) == 60
    assert pipes.geometry.iloc[0] is None
    assert isinstance(pipes.geometry.iloc[1], LineString)
