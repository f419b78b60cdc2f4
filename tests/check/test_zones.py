from __future__ import annotations

from collections.abc import Callable

import pytest
from shapely.geometry import LineString, Point, box

from district.check.zones import check_zones
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]
Found = Callable[[Inputs], list[str]]


@pytest.fixture
def found(says: Says, settings: Settings) -> Found:
    return lambda inputs: says(check_zones(build_network(inputs, settings=settings), inputs))


def test_zones_that_meters_and_valves_close_off_give_no_finding(
    inputs: Inputs, found: Found
) -> None:
    assert found(inputs) == []


def test_zone_without_pipes(inputs: Inputs, add: Change, found: Found) -> None:
    broken = add(inputs, "zones", {"zone_id": "HILL", "geometry": box(0, 500, 100, 600)})
    assert found(broken) == [
        "warning: zones.geojson, zone HILL, column geometry: got an outline with no pipe in use "
        "inside, expected an outline around the zone's pipes. Correct the outline, or remove the "
        "zone."
    ]


def test_source_without_a_meter_before_a_zone(inputs: Inputs, drop: Change, found: Found) -> None:
    assert found(drop(inputs, "meters", "M1")) == [
        "warning: sources.geojson, source S: got no meter between it and zone MILL, expected a "
        "zone meter on every way from a source into a zone. Add the inlet meter, or mark the "
        "boundary valve shut; until then the zone has no balance."
    ]


def test_zone_parted_by_a_shut_valve(inputs: Inputs, edit: Change, found: Found) -> None:
    parted = edit(inputs, "valves", "V2", geometry=Point(480, 0), state="shut")
    assert found(parted) == [
        "warning: zones.geojson, zone QUAY: got pipes that meters or shut valves part into 2 "
        "areas: QUAY (0.37 km), QUAY/2 (0.12 km), expected one area a zone. Correct the state of "
        "the valves between them, or give each area a zone of its own.",
        "warning: meters.geojson, area QUAY/2: got 1 connection and no zone meter on its edge, "
        "expected at least one zone meter that lets water in. Add its inlet meter, or correct the "
        "state of the valves around it; until then it has no balance.",
    ]


def test_two_zones_with_nothing_between(inputs: Inputs, drop: Change, found: Found) -> None:
    assert found(drop(inputs, "meters", "M2")) == [
        "warning: zones.geojson, zones MILL and QUAY: got pipes joined to one area, with no meter "
        "and no shut valve between the zones, expected a zone meter or a shut valve on every pipe "
        "between two zones. Add the meter or mark the valve shut; until then they are balanced "
        "together as MILL+QUAY."
    ]


def test_zone_that_water_only_leaves(inputs: Inputs, edit: Change, found: Found) -> None:
    assert found(edit(inputs, "meters", "M2", downstream="MILL")) == [
        "warning: meters.geojson, area QUAY: got 2 connections, and only meters through which "
        "water leaves: M2, expected at least one zone meter that lets water in. Correct "
        "downstream of these meters, or add the meter that lets water in."
    ]


def test_a_meter_that_is_already_found_wrong_is_not_missed(
    inputs: Inputs, edit: Change, found: Found
) -> None:
    assert found(edit(inputs, "meters", "M2", downstream="QUAI")) == []


def test_connections_drawn_in_another_zone(inputs: Inputs, add: Change, found: Found) -> None:
    rows = [{"connection_id": f"D{n}", "geometry": Point(310 + n, 45)} for n in range(6)]
    spur = {"pipe_id": "X1", "geometry": LineString([(200, 50), (290, 50)])}
    broken = add(add(inputs, "connections", *rows), "pipes", spur)
    assert found(broken) == [
        "warning: connections.geojson, connections D0, D1, D2 and 3 more, column geometry: got 6 "
        "drawn in zone QUAY, but on a pipe of MILL, expected each in the zone of the pipe that "
        "serves it. Correct the zone's outline, or the pipe or the state of a valve there; the "
        "balance follows the pipe."
    ]


def test_zone_that_serves_nobody(inputs: Inputs, drop: Change, found: Found) -> None:
    assert found(drop(inputs, "connections", "C2", "C3")) == [
        "note: connections.geojson, zone QUAY: got no connection, expected the connections it "
        "serves. Nothing need be done if it serves none: all its inflow is then taken for "
        "leakage, and it has no figure by connection."
    ]


def test_connections_drawn_outside_every_zone(inputs: Inputs, add: Change, found: Found) -> None:
    broken = add(inputs, "connections", {"connection_id": "D1", "geometry": Point(500, -55)})
    assert found(broken) == [
        "note: connections.geojson, connection D1, column geometry: got 1 drawn outside every "
        "zone, but on a pipe of QUAY, expected each in the zone of the pipe that serves it. "
        "Correct the zone's outline, or the pipe or the state of a valve there; the balance "
        "follows the pipe."
    ]


def test_connections_on_a_trunk_outside_every_zone_are_none(
    inputs: Inputs, add: Change, found: Found
) -> None:
    assert (
        found(add(inputs, "connections", {"connection_id": "D1", "geometry": Point(20, 9)})) == []
    )


def test_a_short_piece_between_two_devices_is_not_worth_a_word(
    inputs: Inputs, add: Change, found: Found
) -> None:
    beside = {"valve_id": "V3", "geometry": Point(330, 100), "state": "shut"}
    assert found(add(inputs, "valves", beside)) == []


def test_pipes_without_a_source_are_not_called_a_part_of_the_zone(
    inputs: Inputs, add: Change, found: Found
) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(450, 60), (600, 60)])}
    user = {"connection_id": "D1", "geometry": Point(500, 62)}
    assert found(add(add(inputs, "pipes", row), "connections", user)) == []
