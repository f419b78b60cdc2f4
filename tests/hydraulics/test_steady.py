"""Tests of `district.hydraulics.steady`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.errors import UnsettledError
from district.hydraulics import (
    Kind,
    Model,
    Openings,
    Service,
    State,
    delivered_share,
    pattern_of,
    solve,
)
from district.hydraulics.model import Reals
from tests.hydraulics.networks import drawn_network, drawn_outflow, network

NOTHING = [np.nan] * 3


def balanced(state: State) -> bool:
    return state.mass_residual_l_s < 1e-8 and state.energy_residual_m < 1e-8


def test_one_pipe_loses_what_the_formula_says() -> None:
    model = network({0: 50.0}, [0.0, 10.0], [(0, 1)])
    state = solve(model, np.array([0.0, 5.0]))
    lost = 10.667 * 100.0 * 0.005**1.852 / (100.0**1.852 * 0.1**4.871)
    assert state.head_m[1] == pytest.approx(50.0 - lost, abs=1e-10)
    assert state.flow_l_s == pytest.approx([5.0])


def test_water_at_rest_stands_at_the_source_s_level() -> None:
    model = network({0: 50.0}, [0.0] * 4, [(0, 1), (1, 2), (2, 0), (2, 3)])
    state = solve(model, np.zeros(4))
    assert state.head_m == pytest.approx([50.0] * 4, abs=1e-8)
    assert np.abs(state.flow_l_s).max() < 1e-6


def test_what_no_open_way_reaches_is_said_and_gets_nothing() -> None:
    model = network(
        {0: 50.0}, [0.0] * 5, [(0, 1), (1, 2), (2, 3), (3, 4)], is_open=[True, False, True, True]
    )
    state = solve(model, np.ones(5))
    assert state.reached.tolist() == [True, True, False, False, False]
    assert np.isnan(state.head_m[2:]).all()
    assert state.demand_l_s.tolist() == [1.0, 1.0, 0.0, 0.0, 0.0]
    assert state.flow_l_s == pytest.approx([1.0, 0.0, 0.0, 0.0])
    assert balanced(state)


def test_without_any_source_nothing_is_reached() -> None:
    state = solve(network({}, [0.0] * 2, [(0, 1)]), np.ones(2))
    assert not state.reached.any()
    assert state.demand_l_s.tolist() == [0.0, 0.0]


def test_sources_alone_leave_nothing_to_seek() -> None:
    state = solve(network({0: 50.0, 1: 40.0}, [0.0] * 2, [(0, 1)]), np.zeros(2))
    lost = 10.667 * 100.0 * (state.flow_l_s[0] / 1000) ** 1.852 / (100.0**1.852 * 0.1**4.871)
    assert lost == pytest.approx(10.0, abs=1e-8)


def test_pipes_side_by_side_share_by_their_bores_and_a_pipe_to_itself_carries_none() -> None:
    model = network(
        {0: 50.0}, [0.0] * 2, [(0, 1), (1, 0), (1, 1)], diameter_mm=[100.0, 200.0, 100.0]
    )
    state = solve(model, np.array([0.0, 20.0]))
    assert state.flow_l_s[0] / -state.flow_l_s[1] == pytest.approx(0.5 ** (4.871 / 1.852))
    assert state.flow_l_s[2] == 0.0
    assert balanced(state)


@pytest.mark.parametrize("formula", ["hazen_williams", "darcy_weisbach"])
def test_hair_thin_and_very_wide_pipes_side_by_side(formula: str) -> None:
    model = network(
        {0: 50.0}, [0.0] * 4, [(0, 1), (1, 2), (2, 3), (0, 3)],
        diameter_mm=[10.0, 3000.0, 10.0, 3000.0], length_m=[1000.0, 0.5, 0.5, 1000.0],
        roughness=100.0 if formula == "hazen_williams" else 0.1, formula=formula,
    )  # fmt: skip
    assert balanced(solve(model, np.array([0.0, 0.01, 0.0, 0.2])))


def test_a_pump_lifts_by_its_curve() -> None:
    model = network(
        {0: 10.0}, [0.0, 0.0], [(0, 1)], kind=Kind.PUMP, pump=[[40.0, 0.1, 2.0]],
        diameter_mm=np.nan,
    )  # fmt: skip
    state = solve(model, np.array([0.0, 10.0]))
    assert state.head_m[1] == pytest.approx(40.0, abs=1e-4)


def test_a_pump_that_cannot_lift_so_high_stands_still() -> None:
    model = network(
        {0: 10.0, 2: 90.0}, [0.0] * 3, [(0, 1), (1, 2)], kind=[Kind.PUMP, Kind.PIPE],
        pump=[[40.0, 0.1, 2.0], NOTHING],
    )  # fmt: skip
    state = solve(model, np.array([0.0, 1.0, 0.0]))
    assert state.flow_l_s == pytest.approx([0.0, -1.0])


def test_a_check_valve_lets_nothing_back() -> None:
    model = network(
        {0: 50.0, 3: 60.0}, [0.0] * 4, [(0, 1), (1, 2), (2, 3)],
        kind=[Kind.PIPE, Kind.CHECK, Kind.PIPE], length_m=[100.0, 0.0, 100.0],
    )  # fmt: skip
    state = solve(model, np.array([0.0, 1.0, 2.0, 0.0]))
    assert state.flow_l_s == pytest.approx([1.0, 0.0, -2.0])
    turned = replace(model, fixed_head_m=np.array([70.0, np.nan, np.nan, 60.0]))
    state = solve(turned, np.array([0.0, 1.0, 2.0, 0.0]), start=state)
    assert state.flow_l_s[1] > 2.0
    assert balanced(state)


def test_streets_behind_a_check_valve_that_points_away_are_not_reached() -> None:
    model = network(
        {0: 50.0}, [0.0] * 3, [(0, 1), (2, 1)], kind=[Kind.PIPE, Kind.CHECK], length_m=100.0
    )
    assert solve(model, np.ones(3)).reached.tolist() == [True, True, False]


def test_water_at_rest_behind_two_check_valves_stands_as_high_as_the_higher_feed() -> None:
    model = network(
        {0: 50.0, 1: 70.0}, [0.0] * 4, [(0, 2), (1, 2), (2, 3)],
        kind=[Kind.CHECK, Kind.CHECK, Kind.PIPE], length_m=[0.0, 0.0, 100.0],
    )  # fmt: skip
    state = solve(model, np.zeros(4))
    assert state.head_m[2:] == pytest.approx([70.0, 70.0], abs=1e-6)
    assert state.flow_l_s == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def reduced(setting_m: float) -> Model:
    """A source, a street, a reducing valve at 10 m elevation, two streets."""
    return network(
        {0: 80.0}, [0.0, 10.0, 10.0, 5.0, 5.0], [(0, 1), (1, 2), (2, 3), (3, 4)],
        kind=[Kind.PIPE, Kind.REDUCING, Kind.PIPE, Kind.PIPE],
        length_m=[200.0, 0.0, 200.0, 200.0],
        setting_m=[np.nan, setting_m, np.nan, np.nan],
    )  # fmt: skip


DRAWN = np.array([0.0, 1.0, 0.0, 2.0, 3.0])


def test_a_reducing_valve_holds_its_pressure() -> None:
    state = solve(reduced(30.0), DRAWN)
    assert state.head_m[2] == pytest.approx(40.0, abs=1e-9)
    assert state.flow_l_s == pytest.approx([6.0, 5.0, 5.0, 3.0])
    assert balanced(state)


def test_a_reducing_valve_with_too_little_before_it_stands_open() -> None:
    state = solve(reduced(90.0), DRAWN)
    assert state.head_m[2] == pytest.approx(state.head_m[1], abs=1e-4)
    assert state.flow_l_s[1] == pytest.approx(5.0)


def test_a_reducing_valve_shuts_where_water_would_run_back() -> None:
    model = reduced(30.0)
    model = replace(model, fixed_head_m=np.array([80.0, np.nan, np.nan, np.nan, 60.0]))
    state = solve(model, DRAWN)
    assert state.flow_l_s[1] == 0.0
    assert state.head_m[2] > 40.0


def test_a_reducing_valve_into_a_tank_shuts_when_the_tank_stands_higher() -> None:
    low, high = (
        network(
            {0: 80.0, 2: level}, [0.0, 0.0, 0.0], [(0, 1), (1, 2)],
            kind=[Kind.PIPE, Kind.REDUCING], length_m=[100.0, 0.0], minor_k=[0.0, 5.0],
            setting_m=[np.nan, 30.0],
        )
        for level in (25.0, 35.0)
    )  # fmt: skip
    assert solve(low, np.zeros(3)).flow_l_s[1] > 1.0
    assert solve(high, np.zeros(3)).flow_l_s[1] == 0.0


def test_two_reducing_valves_into_one_zone_the_higher_setting_feeds_it() -> None:
    model = network(
        {0: 80.0, 1: 80.0}, [0.0] * 4, [(0, 2), (1, 2), (2, 3)],
        kind=[Kind.REDUCING, Kind.REDUCING, Kind.PIPE], length_m=[0.0, 0.0, 50.0],
        setting_m=[30.0, 32.0, np.nan],
    )  # fmt: skip
    state = solve(model, np.array([0.0, 0.0, 0.0, 4.0]))
    assert state.flow_l_s == pytest.approx([0.0, 4.0, 4.0])
    assert state.head_m[2] == pytest.approx(32.0)


def test_leakage_follows_the_pressure_that_it_lowers() -> None:
    model = network({0: 50.0}, [0.0, 5.0, 5.0], [(0, 1), (1, 2)], diameter_mm=50.0)
    openings = Openings(
        "power", np.array([0.01, 0.05, 0.05]), np.array([1.0, 0.5, 1.5]), np.zeros(3), np.zeros(3)
    )
    state = solve(model, np.zeros(3), openings=openings)
    pressure = state.head_m - model.elevation_m
    assert state.leakage_l_s == pytest.approx(
        openings.coefficient * pressure**openings.exponent, rel=1e-9
    )
    assert state.flow_l_s == pytest.approx([state.leakage_l_s[1:].sum(), state.leakage_l_s[2]])
    assert balanced(state)


def test_users_short_of_pressure_get_what_it_gives() -> None:
    model = network({0: 20.0}, [0.0, 5.0, 15.0, 30.0], [(0, 1), (1, 2), (2, 3)], diameter_mm=80.0)
    service = Service(0.0, 15.0)
    wanted = np.array([0.0, 3.0, 3.0, 3.0])
    state = solve(model, wanted, service=service)
    share = delivered_share(service, state.head_m - model.elevation_m)
    assert state.demand_l_s == pytest.approx(wanted * share, abs=1e-8)
    assert 0 < state.demand_l_s[2] < 3.0
    assert state.demand_l_s[3] == 0.0
    assert balanced(state)


def test_a_warm_start_finds_the_same_in_fewer_steps() -> None:
    rng = np.random.default_rng(3)
    links = [(int(rng.integers(i)), i) for i in range(1, 60)] + [(3, 50), (10, 40), (20, 59)]
    model = network({0: 60.0}, np.zeros(60), links, diameter_mm=150.0)
    demand = rng.uniform(0, 0.2, 60)
    pattern = pattern_of(model)
    cold = solve(model, demand, pattern=pattern)
    warm = solve(model, demand * 1.02, start=cold, pattern=pattern)
    fresh = solve(model, demand * 1.02)
    assert warm.head_m == pytest.approx(fresh.head_m, abs=1e-9)
    assert warm.iterations_count < fresh.iterations_count
    assert fresh.factorisations_count == fresh.iterations_count


@pytest.mark.parametrize("seed", [50, 89, 1119, 1234])
def test_pumps_and_valves_that_quarrel_settle_all_the_same(seed: int) -> None:
    """Drawn networks, no sane ones, in which changing all valves at once goes round in circles or
    the first beginning leads nowhere."""
    rng = np.random.default_rng(seed)
    model = drawn_network(rng, valves=True)
    demand, openings, service = drawn_outflow(rng, model.node_id.size)
    state = solve(model, demand, openings=openings, service=service)
    one_way = model.kind != Kind.PIPE
    assert (state.flow_l_s[one_way] > -1e-8).all()
    assert balanced(state)


def test_a_pattern_of_other_pipes_or_sources_is_refused() -> None:
    model = network({0: 10.0}, [0.0] * 3, [(0, 1), (1, 2)])
    for other in (
        network({0: 10.0}, [0.0] * 3, [(0, 1), (1, 2), (0, 2)]),
        network({1: 10.0}, [0.0] * 3, [(0, 1), (1, 2)]),
    ):
        with pytest.raises(ValueError, match="same links and fixed heads"):
            solve(model, np.zeros(3), pattern=pattern_of(other))


def test_a_start_that_leads_nowhere_is_given_up() -> None:
    model = network({0: 50.0}, [0.0, 0.0], [(0, 1)])
    demand = np.array([0.0, 1.0])
    state = solve(model, demand)
    lost = replace(state, flow_l_s=np.array([np.nan]))
    assert solve(model, demand, start=lost).head_m == pytest.approx(state.head_m)


def test_an_impossible_balance_says_where_it_is_furthest_off() -> None:
    """A demand too large for its losses to be numbers."""
    model = network({0: 10.0}, [0.0, 0.0], [(0, 1)])
    with pytest.raises(UnsettledError, match=r"pipe l0 by .* m of head, node n"):
        solve(model, np.array([0.0, 1e200]))


@pytest.mark.parametrize("demand", [np.array([0.0, np.nan]), np.zeros(3)])
def test_demands_that_are_no_numbers_are_refused(demand: Reals) -> None:
    model = network({0: 10.0}, [0.0, 0.0], [(0, 1)])
    with pytest.raises(ValueError, match="one finite number a node"):
        solve(model, demand)
