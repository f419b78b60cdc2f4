from __future__ import annotations

from collections.abc import Callable

from shapely.geometry import LineString

from district.check.near_misses import near_misses
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


def _found(inputs: Inputs, says: Says, tolerance_m: float = 0.5) -> list[str]:
    network = build_network(inputs, settings=Settings(snap_tolerance_m=tolerance_m))
    return says(near_misses(network, inputs, tolerance_m=tolerance_m))


def test_an_end_that_stops_short_of_a_pipe(inputs: Inputs, add: Change, says: Says) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(500, 60), (500, 1.84)])}
    assert _found(add(inputs, "pipes", row), says) == [
        "warning: pipes.geojson, pipe X1, column geometry: got an end that touches nothing, 1.8 m "
        "from pipe B2, expected ends that meet within 0.5 m, or a true dead end. Join the two on "
        "the map, unless the pipe really ends there."
    ]


def test_two_open_ends_are_told_once(inputs: Inputs, add: Change, says: Says) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(603, 0), (700, 0)])}
    assert _found(add(inputs, "pipes", row), says) == [
        "warning: pipes.geojson, pipe B2, column geometry: got an end that touches nothing, 3.0 m "
        "from pipe X1, expected ends that meet within 0.5 m, or a true dead end. Join the two on "
        "the map, unless the pipe really ends there."
    ]


def test_of_several_pipes_near_an_end_the_nearest_is_named(
    inputs: Inputs, add: Change, says: Says
) -> None:
    rows = [
        {"pipe_id": "X1", "geometry": LineString([(500, 60), (500, 2)])},
        {"pipe_id": "X2", "geometry": LineString([(400, 0), (410, 6), (590, 6), (600, 0)])},
    ]
    found = _found(add(inputs, "pipes", *rows), says)
    # X1 passes over X2, which it nowhere touches, so both are pipes it might have been meant for.
    assert [line.split(", ")[1] for line in found] == ["pipe X1"]
    assert "2.0 m from pipe B2" in found[0]


def test_joined_ends_true_dead_ends_and_short_stubs_are_none(
    inputs: Inputs, add: Change, says: Says
) -> None:
    rows = [
        {"pipe_id": "X1", "geometry": LineString([(500, 60), (500, 0.4)])},
        {"pipe_id": "X2", "geometry": LineString([(450, 0), (450, 3)])},
        {"pipe_id": "X3", "geometry": LineString([(401, 0), (404, 3)])},
        {"pipe_id": "X4", "geometry": LineString([(550, 0), (550, -40)])},
    ]
    assert _found(add(inputs, "pipes", *rows), says) == []


def test_beyond_five_metres_or_five_tolerances_is_far(
    inputs: Inputs, add: Change, says: Says
) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(500, 60), (500, 5.5)])}
    broken = add(inputs, "pipes", row)
    assert _found(broken, says) == []
    assert len(_found(broken, says, tolerance_m=2.0)) == 1


def test_a_pipe_bent_back_on_itself_is_no_miss(inputs: Inputs, add: Change, says: Says) -> None:
    ring = LineString([(500, 0), (500, 60), (540, 60), (540, 10), (503, 10), (503, 40)])
    assert _found(add(inputs, "pipes", {"pipe_id": "X1", "geometry": ring}), says) == []


def test_many_misses_end_in_one_sentence(inputs: Inputs, add: Change, says: Says) -> None:
    long = {"pipe_id": "B4", "geometry": LineString([(600, 0), (1200, 0)])}
    rows = [
        {"pipe_id": f"X{n}", "geometry": LineString([(605 + 9 * n, 2), (605 + 9 * n, 40)])}
        for n in range(60)
    ]
    found = _found(add(inputs, "pipes", long, *rows), says)
    assert len(found) == 51
    assert found[0].startswith(
        "warning: pipes.geojson, pipe X0, column geometry: got an end that touches nothing, 2.0 m "
        "from pipe B4,"
    )
    assert found[-1] == (
        "warning: pipes.geojson, pipes X50, X51, X52 and 7 more, column geometry: got 10 more "
        "ends that touch nothing, within 5 m of a pipe, expected ends that meet within 0.5 m, or "
        "a true dead end. Join them on the map, unless the pipes really end there."
    )
