"""Heads and flows of networks drawn by chance: in balance, and the same by an independent way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import root

from district.hydraulics import (
    Kind,
    Model,
    Openings,
    Service,
    State,
    Tanks,
    delivered_share,
    leaked_l_s,
    run_hours,
    solve,
)
from district.hydraulics.head_loss import head_lost, losses_of
from district.hydraulics.model import Reals
from tests.examples import examples
from tests.hydraulics.networks import drawn_network, drawn_outflow

FEW = settings(deadline=None, max_examples=examples(12))
SEEDS = st.integers(0, 2**32 - 1)
NEAR_M, NEAR_L_S = 1e-8, 1e-8


def missed_l_s(model: Model, state: State) -> Reals:
    nodes = model.node_id.size
    comes = np.bincount(model.end, state.flow_l_s, minlength=nodes)
    goes = np.bincount(model.start, state.flow_l_s, minlength=nodes)
    return np.asarray(comes - goes - state.demand_l_s - state.leakage_l_s)


def assert_in_balance(
    model: Model, wanted: Reals, openings: Openings | None, service: Service | None, state: State
) -> None:
    """Mass at junctions, energy along pipes, outflows by their pressure."""
    sought = state.reached & np.isnan(model.fixed_head_m)
    # Heads of a million metres (a drinking straw asked for litres) are known to fewer places.
    heads = np.where(state.reached, state.head_m, 0.0)
    within = max(NEAR_M, 1e-12 * np.abs(heads).max())
    assert np.abs(missed_l_s(model, state)[sought]).max(initial=0.0) < NEAR_L_S
    alive = model.is_open & state.reached[model.start] & state.reached[model.end]
    pipes = np.flatnonzero(alive & (model.kind == Kind.PIPE) & (model.start != model.end))
    lost = head_lost(losses_of(model), state.flow_l_s).head_m[pipes]
    fall = heads[model.start[pipes]] - heads[model.end[pipes]]
    assert np.abs(lost - fall).max(initial=0.0) < within
    assert (state.flow_l_s[~alive] == 0).all()

    pressure = heads - model.elevation_m
    share = np.ones(heads.size)
    if service is not None:
        share = delivered_share(service, pressure)
    right = np.where(state.reached, wanted * np.where(wanted > 0, share, 1.0), 0.0)
    # Below a millimetre of pressure the law is joined to zero.
    clear = np.abs(pressure) > 0.002
    assert state.demand_l_s[clear] == pytest.approx(right[clear], abs=1e-6)
    leak = np.zeros(heads.size) if openings is None else leaked_l_s(openings, pressure)
    leak[~state.reached] = 0.0
    assert state.leakage_l_s[clear] == pytest.approx(leak[clear], rel=1e-6, abs=1e-6)


def assert_valves_in_order(model: Model, state: State) -> None:
    """Nothing runs back; a reducing valve holds, stands open or is shut as the heads have it."""
    alive = model.is_open & state.reached[model.start] & state.reached[model.end]
    before, after, flow = state.head_m[model.start], state.head_m[model.end], state.flow_l_s
    one_way = alive & (model.kind != Kind.PIPE) & (model.start != model.end)
    assert (flow[one_way] > -NEAR_L_S).all()
    lost = head_lost(losses_of(model), flow).head_m
    held = model.elevation_m[model.end] + model.setting_m
    for link in np.flatnonzero(one_way):
        reducing = model.kind[link] == Kind.REDUCING
        passing = abs(before[link] - lost[link] - after[link]) < 1e-6
        holding = reducing and abs(after[link] - held[link]) < 1e-6 and lost[link] < (
            before[link] - after[link] + 1e-6
        )  # fmt: skip
        most = min(before[link], held[link]) if reducing else before[link]
        lift = model.pump[link, 0] if model.kind[link] == Kind.PUMP else 0.0
        stopped = abs(flow[link]) < NEAR_L_S and after[link] > most + lift - 1e-6
        assert passing or holding or stopped
        if reducing and flow[link] > NEAR_L_S and np.isnan(model.fixed_head_m[model.end[link]]):
            assert after[link] < held[link] + 1e-6


@FEW
@given(seed=SEEDS)
def test_any_pipes_settle_in_balance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=False)
    demand, openings, service = drawn_outflow(rng, model.node_id.size)
    state = solve(model, demand, openings=openings, service=service)
    assert_in_balance(model, demand, openings, service, state)


@FEW
@given(seed=SEEDS)
def test_pumps_and_valves_settle_in_balance_and_in_order(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=True, usual=True)
    demand, openings, service = drawn_outflow(rng, model.node_id.size)
    state = solve(model, demand, openings=openings, service=service)
    assert_in_balance(model, demand, openings, service, state)
    assert_valves_in_order(model, state)


@FEW
@given(seed=SEEDS)
def test_the_way_a_pipe_is_drawn_and_the_order_of_pipes_change_nothing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=False, usual=True)
    demand, openings, _ = drawn_outflow(rng, model.node_id.size)
    order = rng.permutation(model.link_id.size)
    turned = rng.random(order.size) < 0.5
    start, end = model.start[order], model.end[order]
    other = replace(
        model,
        start=np.where(turned, end, start),
        end=np.where(turned, start, end),
        **{
            name: getattr(model, name)[order]
            for name in ("link_id", "kind", "length_m", "diameter_mm", "roughness", "minor_k")
        },
    )
    found = solve(model, demand, openings=openings)
    again = solve(other, demand, openings=openings)
    assert again.head_m == pytest.approx(found.head_m, abs=1e-7, nan_ok=True)
    sign = np.where(turned, -1.0, 1.0)
    assert again.flow_l_s == pytest.approx(sign * found.flow_l_s[order], abs=1e-4)


def by_root_finding(model: Model, demand: Reals) -> Reals:
    """Heads by SciPy's `root` on all flows and heads at once, from the formula as written."""
    nodes, links = model.node_id.size, model.link_id.size
    free = np.flatnonzero(np.isnan(model.fixed_head_m))
    resistance = (
        10.667 * model.length_m / (model.roughness**1.852 * (model.diameter_mm / 1000.0) ** 4.871)
    )

    def missed(x: Reals) -> Reals:
        flow, head = x[:links], model.fixed_head_m.copy()
        head[free] = 10.0 * x[links:]
        lost = resistance * flow / 1000.0 * np.abs(flow / 1000.0) ** 0.852
        mass = (
            np.bincount(model.end, flow, minlength=nodes)
            - np.bincount(model.start, flow, minlength=nodes)
            - demand
        )
        return np.r_[lost - head[model.start] + head[model.end], mass[free]]

    begin = np.r_[np.full(links, 3.0), np.full(free.size, 6.0)]
    for method in ("hybr", "lm"):
        found = root(missed, begin, method=method, tol=1e-13)
        if np.abs(missed(found.x)).max() < 1e-8:
            break
    assert np.abs(missed(found.x)).max() < 1e-8
    head = model.fixed_head_m.copy()
    head[free] = 10.0 * found.x[links:]
    return head


@pytest.mark.parametrize("seed", range(25))
def test_root_finding_comes_to_the_same_heads(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=False, usual=True)
    demand = rng.uniform(0.0, 1.5, model.node_id.size)
    assert solve(model, demand).head_m == pytest.approx(by_root_finding(model, demand), abs=1e-6)


@settings(deadline=None, max_examples=examples(5))
@given(seed=SEEDS)
def test_hours_with_a_tank_keep_every_drop(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=False, usual=True)
    nodes = model.node_id.size
    demand, openings, service = drawn_outflow(rng, nodes)
    at = int(np.flatnonzero(np.isnan(model.fixed_head_m))[0]) if nodes > 2 else 0
    tanks = Tanks(
        np.array([at]), np.array([rng.uniform(2, 50)]), np.array([0.0]), np.array([5.0]),
        np.array([rng.uniform(0, 5)]),
    )  # fmt: skip
    model = replace(model, elevation_m=np.where(np.arange(nodes) == at, 45.0, model.elevation_m))
    hours = run_hours(
        model, demand * rng.uniform(0, 2, (6, 1)), step_s=3600.0, tanks=tanks,
        openings=openings, service=service,
    )  # fmt: skip
    stored = np.diff(hours.level_m, axis=0) * tanks.area_m2 * 1000.0 / 3600.0
    assert hours.tank_l_s == pytest.approx(stored, abs=1e-8)
    left = hours.delivered_l_s.sum(axis=1) + hours.leaked_l_s.sum(axis=1) + stored.sum(axis=1)
    assert hours.source_l_s.sum(axis=1) == pytest.approx(left, abs=1e-6)
    assert (hours.level_m >= 0).all()
    assert (hours.level_m <= 5.0).all()
