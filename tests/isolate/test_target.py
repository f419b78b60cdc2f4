"""Tests of `district.isolate.target`."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from district.errors import InputError
from district.isolate.target import Target, distance_target, pipes_target, point_target
from district.settings import Settings
from tests.isolate.towns import STREETS, cut, town

NETWORK = town()
SEGMENTS = cut(NETWORK)


def named(target: Target) -> list[str]:
    return SEGMENTS.segment_ids()[target.wanted].tolist()


def test_a_pipe_of_the_layer_means_all_its_parts() -> None:
    target = pipes_target(NETWORK, SEGMENTS, ["P2"])
    assert named(target) == ["P1/2", "P2/2"]
    assert target.said == "pipe P2"
    assert named(pipes_target(NETWORK, SEGMENTS, ["P2/2"])) == ["P2/2"]
    assert named(pipes_target(NETWORK, SEGMENTS, ["P7/2", "P5/1"])) == ["P4/2", "P7/2"]


def test_metres_are_from_the_western_end_whichever_way_the_pipe_is_drawn() -> None:
    backwards = town({name: line[::-1] for name, line in STREETS.items()})
    for network in (NETWORK, backwards):
        segments = cut(network)
        for along_m, expected in ((5.0, "P1/2"), (50.0, "P2/2"), (100.0, "P2/2")):
            target = distance_target(network, segments, "P2", from_west_m=along_m)
            assert segments.segment_ids()[target.wanted].tolist() == [expected]


def test_a_point_is_that_of_the_nearest_pipe() -> None:
    target = point_target(NETWORK, SEGMENTS, x_m=150.0, y_m=97.0, settings=Settings())
    assert named(target) == ["P4/2"]
    assert target.said == "the point of pipe P5 nearest to 150.0, 97.0 (3 m away)"


def test_a_break_at_a_valve_wants_both_its_sides_dry() -> None:
    target = distance_target(NETWORK, SEGMENTS, "P7", from_west_m=10.2)
    assert named(target) == ["P3/2", "P7/2"]
    assert target.said.endswith("at a valve: both sides of it")
    assert named(distance_target(NETWORK, SEGMENTS, "P7", from_west_m=11.0)) == ["P7/2"]


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (
            lambda: pipes_target(NETWORK, SEGMENTS, ["P22"], files={"pipes": "mains.gpkg"}),
            'mains.gpkg, pipe P22, column pipe_id: got "P22" (the closest is P2), expected the id '
            "of a pipe in use. Correct the id.",
        ),
        (
            lambda: pipes_target(NETWORK, SEGMENTS, []),
            "pipes: got no pipe, expected one pipe or more. Name a pipe.",
        ),
        (
            lambda: distance_target(NETWORK, SEGMENTS, "P2", from_west_m=101.0),
            "pipes, pipe P2, column geometry: got 101 m along it, expected 0 to 100 m, its length "
            "as drawn. Measure from its western end.",
        ),
        (
            lambda: distance_target(NETWORK, SEGMENTS, "X", from_west_m=float("nan")),
            'pipes, pipe X, column pipe_id: got "X", expected the id of a pipe in use. '
            "Correct the id.",
        ),
        (
            lambda: point_target(NETWORK, SEGMENTS, x_m=0.0, y_m=900.0, settings=Settings()),
            "pipes, column geometry: got a point at 0.0, 900.0, expected a point within 60 m of a "
            "pipe in use. Check the coordinates and their reference system.",
        ),
    ],
)
def test_what_is_not_there_is_refused_in_one_sentence(ask: Callable[[], Target], said: str) -> None:
    with pytest.raises(InputError) as caught:
        ask()
    assert [f.sentence() for f in caught.value.findings] == [said]


def test_no_number_is_no_place_along_a_pipe() -> None:
    with pytest.raises(InputError):
        distance_target(NETWORK, SEGMENTS, "P2", from_west_m=float("nan"))
