"""Zones that touch, and changes in them that cancel."""

from __future__ import annotations

import pytest

from district.detect.change import Change
from district.detect.neighbours import between, cancels, cells_at, going_back, partners
from district.network import Network


def change(position: int, size: float, error: float = 0.01) -> Change:
    return Change(position, position, position, position + 1, size, error)


def test_meters_come_before_valves_and_outlines_last(network: Network) -> None:
    assert between(network) == {
        frozenset({"V1", "V2"}): "meter M2",
        frozenset({"V2", "V3"}): "valve X1",
        frozenset({"V3", "V4"}): "a valve or pipe the map does not show",
    }


def test_a_device_touches_the_cells_on_its_sides(network: Network) -> None:
    at = cells_at(network)
    assert at["M2"] == at["M2"] | {"V1", "V2"}
    assert at["X1"] == {"V2", "V3"}
    assert at["M1"] == {"V1"}


@pytest.mark.parametrize(
    ("rise", "fall", "expected"),
    [
        (change(100, 0.3), change(101, -0.28), True),
        (change(100, 0.3), change(110, -0.3), False),
        (change(100, 0.3), change(100, -0.15), False),
        (change(100, 0.05, 0.03), change(100, -0.05, 0.03), False),  # too unsure to prove it
    ],
)
def test_opposite_changes_cancel_if_alike_and_close(
    rise: Change, fall: Change, expected: bool
) -> None:
    assert cancels(rise, fall) is expected


def test_each_fall_answers_for_one_rise_the_closest(network: Network) -> None:
    found = {
        "V1": (change(100, 0.32),),
        "V2": (change(100, -0.30),),
        "V3": (change(101, 0.301),),
        "V4": (change(100, -0.30),),
    }
    pairs = partners({c: found[c] for c in ("V1", "V2", "V3")}, between(network))
    assert pairs == {("V3", 101): ("V2", found["V2"][0])}


def test_zones_that_do_not_touch_make_no_pair(network: Network) -> None:
    found = {"V1": (change(100, 0.3),), "V4": (change(100, -0.3),)}
    assert partners(found, between(network)) == {}


def test_the_way_back_is_no_new_event(network: Network) -> None:
    found = {
        "V1": (change(100, 0.3), change(200, -0.3)),
        "V2": (change(100, -0.3), change(200, 0.3)),
    }
    pairs = partners(found, between(network))
    assert set(pairs) == {("V1", 100), ("V2", 200)}
    assert going_back(pairs) == {("V2", 200)}
