"""Tests of `district.hydraulics.reach`."""

from __future__ import annotations

import numpy as np

from district.hydraulics import Kind
from district.hydraulics.reach import reached_nodes
from tests.hydraulics.networks import network


def test_water_goes_either_way_through_pipes_one_way_through_valves() -> None:
    model = network(
        {0: 50.0}, [0.0] * 5, [(1, 0), (1, 2), (3, 1), (4, 3)],
        kind=[Kind.PIPE, Kind.CHECK, Kind.CHECK, Kind.PIPE],
    )  # fmt: skip
    assert reached_nodes(model, model.is_open).tolist() == [True, True, True, False, False]


def test_a_shut_pipe_cuts_off_what_is_behind_it() -> None:
    model = network({0: 50.0}, [0.0] * 3, [(0, 1), (1, 2)])
    assert reached_nodes(model, np.array([True, False])).tolist() == [True, True, False]


def test_without_a_source_nothing_is_reached() -> None:
    model = network({}, [0.0] * 2, [(0, 1)])
    assert not reached_nodes(model, model.is_open).any()
