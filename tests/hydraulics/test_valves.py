"""Tests of `district.hydraulics.valves`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import Kind
from district.hydraulics.head_loss import losses_of
from district.hydraulics.valves import (
    Doing,
    at_first,
    at_state,
    changed,
    held_head_m,
    seeping,
    upstream_m,
)
from tests.hydraulics.networks import network

NOTHING = [np.nan] * 3
MODEL = network(
    {0: 50.0}, [0.0, 5.0, 5.0, 5.0, 0.0], [(0, 1), (1, 2), (2, 3), (3, 4)],
    kind=[Kind.PIPE, Kind.CHECK, Kind.REDUCING, Kind.PUMP],
    length_m=[100.0, 0.0, 0.0, 0.0], setting_m=[np.nan, np.nan, 20.0, np.nan],
    pump=[NOTHING, NOTHING, NOTHING, [30.0, 0.1, 2.0]],
)  # fmt: skip
LOSSES = losses_of(MODEL)
ALIVE = np.ones(4, dtype=bool)
SOUGHT = np.isnan(MODEL.fixed_head_m)
PIPE, CHECK, REDUCING, PUMP = range(4)


def after(doing: list[int], flow: list[float], head: list[float]) -> list[int]:
    found, broken = changed(MODEL, LOSSES, np.array(doing), np.array(flow), np.array(head))
    assert ((broken > 0) == (found != np.array(doing))).all()
    return found.tolist()


def test_what_a_link_can_bring_to_its_end() -> None:
    head = np.array([50.0, 48.0, 47.0, 25.0, 55.0])
    assert upstream_m(MODEL, LOSSES, head).tolist() == [50.0, 48.0, 25.0, 55.0]
    assert held_head_m(MODEL)[REDUCING] == 25.0


def test_all_in_order_nothing_changes() -> None:
    doing = [Doing.PASSING, Doing.PASSING, Doing.HOLDING, Doing.PASSING]
    head = [50.0, 48.0, 47.99, 25.0, 50.0]
    assert after(doing, [5.0, 5.0, 5.0, 5.0], head) == doing


def test_water_that_runs_back_stops_one_way_links_and_no_pipe() -> None:
    head = [50.0, 51.0, 52.0, 53.0, 90.0]
    found = after([Doing.PASSING] * 4, [-1.0] * 4, head)
    assert found == [Doing.PASSING, Doing.STOPPED, Doing.STOPPED, Doing.STOPPED]


def test_a_head_that_would_drive_water_on_opens_them_again() -> None:
    head = [50.0, 48.0, 47.0, 20.0, 40.0]
    found = after([Doing.PASSING, *[Doing.STOPPED] * 3], [0.0] * 4, head)
    assert found == [Doing.PASSING, Doing.PASSING, Doing.HOLDING, Doing.PASSING]
    low = [50.0, 48.0, 22.0, 20.0, 60.0]
    found = after([Doing.PASSING, *[Doing.STOPPED] * 3], [0.0] * 4, low)
    assert found[REDUCING:] == [Doing.PASSING, Doing.STOPPED]


def test_a_reducing_valve_holds_or_stands_open_by_the_head_before_it() -> None:
    doing = [Doing.PASSING] * 4
    assert after(doing, [5.0] * 4, [50.0, 48.0, 47.0, 46.0, 60.0])[REDUCING] == Doing.HOLDING
    doing[REDUCING] = Doing.HOLDING
    assert after(doing, [5.0] * 4, [50.0, 48.0, 24.0, 25.0, 50.0])[REDUCING] == Doing.PASSING


def test_a_known_state_tells_what_its_links_did() -> None:
    flow, head = np.array([5.0, 5.0, 5.0, 0.0]), np.array([50.0, 48.0, 48.0, 25.0, 80.0])
    found = at_state(MODEL, LOSSES, ALIVE, SOUGHT, flow, head)
    # The pump is stopped and alone leads to its end: it seeps.
    assert found.tolist() == [Doing.PASSING, Doing.PASSING, Doing.HOLDING, Doing.SEEPING]


def test_a_stopped_link_seeps_only_where_nothing_else_leads() -> None:
    doing = np.array([Doing.PASSING, Doing.STOPPED, Doing.STOPPED, Doing.PASSING])
    assert seeping(MODEL, doing, SOUGHT).tolist() == [
        Doing.PASSING, Doing.SEEPING, Doing.SEEPING, Doing.PASSING,
    ]  # fmt: skip
    ring = network(
        {0: 50.0}, [0.0] * 3, [(0, 1), (1, 2), (0, 2)], kind=[Kind.PIPE, Kind.CHECK, Kind.PIPE]
    )
    doing = np.array([Doing.PASSING, Doing.STOPPED, Doing.PASSING])
    assert (seeping(ring, doing, np.isnan(ring.fixed_head_m)) == doing).all()


def test_at_first_all_that_is_alive_passes() -> None:
    assert at_first(np.array([True, False])).tolist() == [Doing.PASSING, Doing.DEAD]


def test_the_one_that_breaks_its_condition_most_is_known_by_how_much() -> None:
    doing = np.array([Doing.PASSING, Doing.PASSING, Doing.HOLDING, Doing.PASSING])
    flow = np.array([1.0, -0.5, 2.0, -3.0])
    _, broken = changed(MODEL, LOSSES, doing, flow, np.array([50.0, 48.0, 47.0, 25.0, 80.0]))
    assert broken == pytest.approx([0.0, 0.5, 0.0, 3.0])
