"""Zones that touch, and changes in them that cancel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.detect.change import Change
from district.detect.neighbours import (
    UNSEEN,
    Opposite,
    between,
    cancels,
    cells_at,
    going_back,
    opposites,
    partners,
)
from district.detect.places import Place
from district.detect.runs import Run
from district.network import Network


def change(position: int, size: float, error: float = 0.01) -> Change:
    return Change(position, position, position, position + 1, size, error)


def test_meters_come_before_valves_and_outlines_last(network: Network) -> None:
    assert between(network) == {
        frozenset({"V1", "V2"}): ("meter M2",),
        frozenset({"V2", "V3"}): ("valve X1",),
        frozenset({"V3", "V4"}): (UNSEEN,),
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


def place(cell: str, change: float, seed: int) -> Place:
    flow = np.random.default_rng(seed).normal(1.0, 0.05, 200) + change * (np.arange(200) >= 100)
    return Place("zone", cell, cell, flow, 0.05, (0.04, 0.06), np.full(200, 86.4), 0.0, 0.0, ())


def run(size: float) -> Run:
    rise = np.where(np.arange(200) >= 100, size, 0.0)
    return Run(100, 100, 100, 101, 1.0, rise, 0.01)


def beside(fall: float, **more: object) -> Opposite:
    places = {"V1": place("V1", 0.4, 1), "V2": place("V2", fall, 2)}
    (found,) = opposites(
        "V1",
        run(0.4),
        places=places,
        touching={"V1": [("V2", ("meter M2",)), ("V9", ("valve X9",))]},
        **more,  # type: ignore[arg-type]
    )
    return found


def test_a_zone_that_fell_by_as_much_speaks_for_moved_water() -> None:
    found = beside(-0.4)
    assert found.log > 2
    assert found.change_l_s == pytest.approx(-0.4, abs=0.06)
    assert found.by_meter()
    assert found.only_meters()


@pytest.mark.parametrize("fall", [0.0, 0.4, -1.5])
def test_one_that_did_something_else_speaks_against(fall: float) -> None:
    assert beside(fall).log < -2


def test_a_fall_dated_to_the_same_nights_and_the_hours_add_to_it() -> None:
    plain = beside(-0.4).log
    assert beside(-0.4, partner="V2").log > plain + 1
    assert beside(-0.4, by_hour={"V2": -4.0}).log == pytest.approx(plain - 4)


def test_another_change_of_the_week_before_is_no_part_of_this_one() -> None:
    """A repair seven nights before the rise, as an open meter check would find it."""
    own = place("V1", 0.4, 1)
    own.flow_l_s[:93] += 2.0
    own = replace(
        own, changes=(Change(93, 93, 93, 95, -2.0, 0.01), Change(100, 99, 100, 101, 0.4, 0.01))
    )
    places = {"V1": own, "V2": place("V2", -0.4, 2)}
    touching = {"V1": [("V2", ("meter M2",))]}
    (found,) = opposites("V1", run(0.4), places=places, touching=touching)
    assert found.log > 2


def test_a_zone_without_nights_around_the_change_tells_nothing() -> None:
    silent = place("V2", 0.0, 3)
    silent.flow_l_s[100:] = np.nan
    places = {"V1": place("V1", 0.4, 1), "V2": silent}
    touching = {"V1": [("V2", ("meter M2",))]}
    assert opposites("V1", run(0.4), places=places, touching=touching) == ()
