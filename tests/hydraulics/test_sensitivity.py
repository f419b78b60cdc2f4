"""Tests of `district.hydraulics.sensitivity`: against finite differences of `solve`."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.sparse import csr_array

from district.hydraulics import (
    Kind,
    Model,
    Openings,
    Service,
    head_sensitivity,
    pattern_of,
    roughness_sensitivity,
    sensitivity,
    solve,
)
from district.hydraulics.model import Reals
from tests.hydraulics.networks import network

STEP = 1e-4


def looped(formula: str = "hazen_williams", **columns: Any) -> tuple[Model, Reals]:
    """A grid of 5 x 5 with two sources, a dead end and a pipe that is shut."""
    node = np.arange(25).reshape(5, 5)
    links = [*zip(node[:, :-1].flat, node[:, 1:].flat, strict=True)]
    links += [*zip(node[:-1].flat, node[1:].flat, strict=True), (24, 25), (25, 26)]
    rng = np.random.default_rng(5)
    count = len(links)
    opened = np.ones(count, dtype=bool)
    opened[[7, count - 1]] = False
    model = network(
        {0: 60.0, 24: 58.0}, rng.uniform(0, 20, 27), links, is_open=opened,
        diameter_mm=rng.choice([80.0, 100.0, 150.0], count), length_m=rng.uniform(50, 300, count),
        roughness=rng.uniform(80, 140, count) if formula == "hazen_williams" else 0.5,
        formula=formula, **columns,
    )  # fmt: skip
    return model, rng.uniform(0.2, 1.0, 27)


WATCH = csr_array(
    (np.array([1.0, 0.4, 0.6, 1.0, 1.0]), ([0, 1, 1, 2, 3], [12, 7, 8, 0, 26])), shape=(4, 27)
)
"""A node, a point between two, a source, and a node that is not reached."""


def differences(model: Model, demand: Reals, **outflow: Any) -> tuple[Reals, Reals]:
    """Finite differences by node and by link, of watched points that are reached."""
    tight = WATCH[:3]

    def heads(model: Model, more: Reals) -> Reals:
        state = solve(model, demand + more, **outflow)
        return np.asarray(tight @ np.nan_to_num(state.head_m))

    nodes, links = demand.size, model.link_id.size
    none = np.zeros(nodes)
    drawn = [
        (heads(model, unit) - heads(model, -unit)) / (2 * STEP) for unit in STEP * np.eye(nodes)
    ]
    rough = [
        (
            heads(replace(model, roughness=model.roughness * np.exp(unit)), none)
            - heads(replace(model, roughness=model.roughness * np.exp(-unit)), none)
        )
        / (2 * STEP)
        for unit in STEP * np.eye(links)
    ]
    return np.array(drawn).T, np.array(rough).T


OPENINGS = Openings(
    "power", np.full(27, 0.005), np.linspace(0.5, 1.5, 27), np.zeros(27), np.zeros(27)
)


@pytest.mark.parametrize("formula", ["hazen_williams", "darcy_weisbach"])
@pytest.mark.parametrize("openings", [None, OPENINGS], ids=["tight", "leaking"])
def test_as_finite_differences_say(formula: str, openings: Openings | None) -> None:
    model, demand = looped(formula)
    state = solve(model, demand, openings=openings)
    found = sensitivity(model, state, WATCH, openings=openings)
    drawn, rough = differences(model, demand, openings=openings)
    assert found.drawn[:3] == pytest.approx(drawn, rel=1e-4, abs=1e-6)
    assert found.roughness[:3] == pytest.approx(rough, rel=1e-4, abs=1e-6)
    assert (found.drawn <= 0).all()


def test_sources_and_what_is_not_reached_neither_move_nor_are_moved() -> None:
    model, demand = looped()
    found = sensitivity(model, solve(model, demand), WATCH)
    assert (found.drawn[2:] == 0).all()
    assert (found.drawn[:, [0, 24, 26]] == 0).all()
    assert (found.roughness[:, ~model.is_open] == 0).all()


def test_with_a_reducing_valve_that_holds_and_a_check_valve_that_is_shut() -> None:
    """The zone behind the valve does not feel what is drawn before it."""
    model = network(
        {0: 70.0, 6: 60.0}, [0.0] * 7,
        [(0, 1), (1, 2), (2, 3), (3, 4), (4, 2), (1, 5), (6, 5), (0, 5)],
        kind=[0, Kind.REDUCING, 0, 0, 0, 0, Kind.CHECK, 0],
        length_m=[200.0, 0.0, 200.0, 100.0, 150.0, 200.0, 0.0, 100.0],
        setting_m=[np.nan, 30.0, *[np.nan] * 6],
    )  # fmt: skip
    demand = np.array([0.0, 1.0, 0.5, 2.0, 1.0, 3.0, 0.0])
    watch = csr_array(np.eye(7)[[1, 4]])
    state = solve(model, demand)
    assert state.flow_l_s[6] == 0.0
    found = head_sensitivity(model, state, watch)
    for node in range(1, 6):
        unit = STEP * np.eye(7)[node]
        rise = solve(model, demand + unit).head_m - solve(model, demand - unit).head_m
        assert found[:, node] == pytest.approx(rise[[1, 4]] / (2 * STEP), rel=1e-4, abs=2e-6)
    assert found[1, 1] == pytest.approx(0.0, abs=1e-9)
    assert found[0, 4] < -0.01


def test_users_short_of_pressure_give_way_to_a_leak() -> None:
    """A small opening lowers the heads as told, and by less than where users do not give way."""
    model, demand = looped()
    service = Service(0.0, 70.0)
    state = solve(model, demand, service=service)
    found = head_sensitivity(model, state, WATCH, service=service)
    for node in (7, 18):
        coefficient = np.zeros(27)
        coefficient[node] = STEP / 100.0
        leak = Openings("power", coefficient, np.full(27, 0.5), np.zeros(27), np.zeros(27))
        leaking = solve(model, demand, service=service, openings=leak)
        fall = WATCH[:2] @ np.nan_to_num(leaking.head_m - state.head_m)
        assert found[:2, node] * leaking.leakage_l_s[node] == pytest.approx(fall, rel=1e-3)
    stiff = head_sensitivity(model, state, WATCH)
    assert (np.abs(found[:2, 7]) < np.abs(stiff[:2, 7])).all()


def test_each_alone_is_the_same_as_both_and_a_kept_pattern_changes_nothing() -> None:
    model, demand = looped()
    state, pattern = solve(model, demand), pattern_of(model)
    both = sensitivity(model, state, WATCH)
    assert (head_sensitivity(model, state, WATCH, pattern=pattern) == both.drawn).all()
    assert (roughness_sensitivity(model, state, WATCH, pattern=pattern) == both.roughness).all()
