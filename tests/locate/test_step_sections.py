"""Tests of `district.locate.step_sections`."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import Point

from district.locate.step_sections import sections
from district.network.ways import pipes_in_order
from tests.locate.field_scene import scene_of, street

SCENE = scene_of()


def test_sections_follow_the_graph() -> None:
    section, feeds = sections(SCENE.network, "A", ("V2", "V1"))
    assert dict(zip(pipes_in_order(SCENE.network).index, section, strict=True)) == {
        "P1/1": -1, "P1/2": 0, "P2/1": 0, "P2/2": 2, "P3/1": 2, "P3/2": 1, "P4": 0,
    }  # fmt: skip
    assert not feeds.any()
    near_first, _ = sections(SCENE.network, "A", ("V1", "V2"))
    assert set(near_first) == {-1, 0, 1}


def test_a_section_that_feeds_another_zone_is_known() -> None:
    network = street()
    beyond = network.boundaries.iloc[:1].assign(
        meter_id="M1", upstream_cell_id="A", downstream_cell_id="B"
    )
    # The same meter turned about: then nothing feeds the zone.
    section, _ = sections(replace(network, boundaries=beyond), "A", ("V2",))
    assert set(section) == {-1}


def test_a_valve_off_the_pipes_parts_nothing() -> None:
    network = street()
    valves = network.valves.copy()
    valves.loc["V2", "geometry"] = Point(410, 40)
    section, _ = sections(replace(network, valves=valves), "A", ("V2", "V1"))
    assert set(section) == {-1, 0, 2}
