from __future__ import annotations

from collections.abc import Callable

import pytest
from shapely.geometry import LineString, Point, box

from district.check.edges import edge_crossings
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


@pytest.fixture
def found(says: Says, settings: Settings) -> Callable[[Inputs], list[str]]:
    return lambda inputs: says(edge_crossings(build_network(inputs, settings=settings), inputs))


Found = Callable[[Inputs], list[str]]


def _crosses(pipe_id: str, one: str, two: str) -> str:
    return (
        f"warning: pipes.geojson, pipe {pipe_id}, column geometry: got a pipe that crosses from "
        f"{one} to {two} with neither meter nor shut valve, expected a zone meter or a shut valve "
        "where a pipe leaves a zone. Add the meter or the shut valve, or correct the zone's "
        "outline; the balance follows the pipe."
    )


def test_meters_and_shut_valves_at_the_edge_give_no_finding(inputs: Inputs, found: Found) -> None:
    assert found(inputs) == []


def test_pipe_across_an_edge(inputs: Inputs, add: Change, found: Found) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(220, 0), (220, -30), (420, -30), (420, 0)])}
    assert found(add(inputs, "pipes", row)) == [_crosses("X1", "zone MILL", "zone QUAY")]


def test_an_open_valve_at_the_edge_does_not_part_zones(
    inputs: Inputs, edit: Change, found: Found
) -> None:
    opened = edit(inputs, "valves", "V1", state="open")
    # The pipes A3 and B3 meet at the edge: the first of them is named.
    assert found(opened) == [_crosses("A3", "zone MILL", "zone QUAY")]


def test_a_spur_into_the_next_zone(inputs: Inputs, add: Change, found: Found) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(250, 0), (250, -30), (340, -30)])}
    assert found(add(inputs, "pipes", row)) == [_crosses("X1", "zone MILL", "zone QUAY")]


def test_a_device_drawn_a_little_off_the_edge(inputs: Inputs, edit: Change, found: Found) -> None:
    assert found(edit(inputs, "meters", "M2", geometry=Point(320, 0))) == []
    assert found(edit(inputs, "meters", "M2", geometry=Point(330, 0))) == [
        _crosses("A2", "zone MILL", "zone QUAY")
    ]


def test_a_pipe_out_of_every_zone(inputs: Inputs, add: Change, found: Found) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(600, 0), (800, 0)])}
    assert found(add(inputs, "pipes", row)) == [_crosses("X1", "zone QUAY", "outside every zone")]


def test_a_main_that_only_brings_water_through_a_zone(
    inputs: Inputs, add: Change, found: Found
) -> None:
    through = add(
        inputs, "pipes", {"pipe_id": "T2", "geometry": LineString([(50, 0), (50, 120), (650, 120)])}
    )
    assert found(through) == []
    served = add(through, "connections", {"connection_id": "C4", "geometry": Point(150, 121)})
    assert found(served) == [
        _crosses("T2", "zone MILL", "outside every zone"),
        _crosses("T2", "zone MILL", "zone QUAY"),
    ]


def test_a_narrow_gap_between_two_outlines_hides_no_crossing(
    inputs: Inputs, edit: Change, add: Change, found: Found
) -> None:
    apart = edit(inputs, "zones", "MILL", geometry=box(100, -50, 290, 150))
    apart = edit(apart, "zones", "QUAY", geometry=box(305, -50, 700, 150))
    assert found(apart) == []
    row = {"pipe_id": "X1", "geometry": LineString([(220, 0), (220, -30), (420, -30), (420, 0)])}
    assert found(add(apart, "pipes", row)) == [_crosses("X1", "zone MILL", "zone QUAY")]


def test_an_inner_zone_is_left_for_the_outer_one(inputs: Inputs, add: Change, found: Found) -> None:
    inner = {"zone_id": "QUAY EAST", "geometry": box(500, -40, 650, 40), "parent_id": "QUAY"}
    assert found(add(inputs, "zones", inner)) == [_crosses("B2", "zone QUAY", "zone QUAY EAST")]


def test_a_pipe_along_the_edge_is_no_crossing(inputs: Inputs, add: Change, found: Found) -> None:
    wavy = LineString([(250, 0), (250, -20), (299, -22), (302, -30), (298, -38), (301, -44)])
    assert found(add(inputs, "pipes", {"pipe_id": "X1", "geometry": wavy})) == []


def test_without_zones_nothing_is_crossed(inputs: Inputs, drop: Change, found: Found) -> None:
    assert found(drop(inputs, "zones", "MILL", "QUAY")) == []


def test_many_crossings_end_in_one_sentence(inputs: Inputs, add: Change, found: Found) -> None:
    rows = [
        {"pipe_id": f"X{n}", "geometry": LineString([(405 + 3 * n, 0), (405 + 3 * n, -90)])}
        for n in range(60)
    ]
    said = found(add(inputs, "pipes", *rows))
    assert len(said) == 51
    assert said[-1] == (
        "warning: pipes.geojson, pipes X50, X51, X52 and 7 more, column geometry: got 10 more "
        "pipes that cross a zone's edge with neither, expected a zone meter or a shut valve where "
        "a pipe leaves a zone. Add the meters or the shut valves, or correct the outlines."
    )
