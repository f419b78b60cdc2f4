import numpy as np
import pytest

from district.schema import check
from district.schema.inputs import PIPES, ZONES
from district.simulate.layout import ground_m, lay_out


@pytest.fixture(scope="module")
def layout():
    return lay_out(np.random.default_rng([7, 0]))


@pytest.fixture(scope="module")
def own_ground(layout):
    """Outline of each zone without the zones nested in it."""
    outlines = dict(zip(layout.zones["zone_id"], layout.zones.geometry, strict=True))
    outlines["C1"] = outlines["C1"].difference(outlines["C2"]).difference(outlines["C3"])
    return outlines


def test_size_is_that_of_a_small_town(layout):
    assert 400 <= len(layout.pipes) <= 600
    assert 18 <= layout.pipes.geometry.length.sum() / 1000 <= 24


def test_tables_meet_the_schema(layout):
    assert check(PIPES, layout.pipes, source="pipes")[1] == ()
    assert check(ZONES, layout.zones, source="zones")[1] == ()


def test_only_pipes_with_a_device_cross_an_edge(layout, own_ground):
    for pipe in layout.pipes[layout.pipes["device"] == ""].itertuples():
        assert own_ground[pipe.zone_id].buffer(0.01).covers(pipe.geometry), pipe.pipe_id


def test_devices_stand_where_their_pipe_crosses_the_edge(layout, own_ground):
    for pipe in layout.pipes[layout.pipes["part"] == "link"].itertuples():
        middle = pipe.geometry.interpolate(0.5, normalized=True)
        for zone in (pipe.zone_id, pipe.to_zone_id):
            assert own_ground[zone].boundary.distance(middle) < 0.5


def test_nested_zones_lie_inside_their_parent(layout):
    zones = layout.zones.set_index("zone_id")
    for zone_id, row in zones[zones["parent_id"].notna()].iterrows():
        parent = zones.geometry[row["parent_id"]]
        assert parent.buffer(0.01).covers(row.geometry), zone_id
        assert row.geometry.area < parent.area


def test_old_quarters_are_of_old_iron(layout):
    pipes = layout.pipes
    iron = pipes[(pipes["material"] == "cast_iron")]
    assert set(iron["zone_id"]) >= {"C2", "V1"}
    assert iron["installed_year"].max() <= 1962
    plastic = pipes["material"].isin(["pvc", "polyethylene"])
    assert plastic[(pipes["zone_id"] == "V3") & (pipes["part"] != "link")].all()


def test_ground_falls_from_the_reservoir_to_the_village(layout):
    ends = layout.pipes.geometry.representative_point()
    level = ground_m(ends)
    zone = layout.pipes["zone_id"]
    assert level[zone == "T"].max() > level[zone == "C1"].mean() > level[zone == "V3"].mean()
    assert np.ptp(level) < 60
