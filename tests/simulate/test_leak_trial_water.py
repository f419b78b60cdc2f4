"""Hours of a drawn zone: solved with and without a leak, and single ones about them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import solve
from district.simulate.leak_trial_use import draw_use, reference_use
from district.simulate.leak_trial_water import Hours, leaking, single_hours, solved_hours
from tests.simulate.drawn_zone import zone, zone_map


@cache
def hours(gates_count: int = 2) -> Hours:
    return solved_hours(
        zone(gates_count), reference_use(zone_map(gates_count)), zone(gates_count).background
    )


def test_a_leak_passes_its_flow_by_night_and_more_or_less_by_pressure() -> None:
    opened = leaking(zone(), reference_use(zone_map()), np.array([0]), np.array([1.5]))
    found = solved_hours(zone(), reference_use(zone_map()), opened, near=hours())
    night = found.leak_l_s[[2, 3]].mean(axis=0)
    # A little less than if it were alone: it lowers its own pressure.
    assert 0.9 * 1.5 < night[0] < 1.5
    assert (found.leak_l_s[:, 1:] == 0).all()
    pressure = [s.head_m[zone().leak_node[0]] for s in found.states]
    assert np.argmin(found.leak_l_s[:, 0]) == np.argmin(pressure)


def test_watched_heads_are_those_at_the_loggers() -> None:
    head = hours().states[7].head_m
    for row, (pipe, share) in enumerate(
        zip(zone_map().loggers["pipe"], zone_map().loggers["share"], strict=True)
    ):
        a, b = zone_map().pipes[["start", "end"]].to_numpy()[pipe]
        if pipe not in (20, 150):
            between = (1 - share) * head[a] + share * head[b]
            assert hours().head_m[7, row] == pytest.approx(between)


@pytest.mark.parametrize("gates_count", [1, 2])
def test_single_hours_are_near_those_solved_exactly(gates_count: int) -> None:
    drawn, true = zone_map(gates_count), zone(gates_count)
    use = draw_use(np.random.default_rng(1), drawn, pd.date_range("2025-03-03", periods=7))
    usual = hours(gates_count)
    departure = use.drawn_l_s - use.usual_l_s[use.reference]
    head, flow = single_hours(usual, use.reference, departure)
    loggers = len(drawn.loggers)
    errors = []
    for t in range(0, 168, 5):
        drawn_l_s = np.concatenate([use.drawn_l_s[t], np.zeros(3)])
        state = solve(
            true.model,
            drawn_l_s,
            openings=true.background,
            start=usual.states[use.reference[t]],
        )
        errors.append((true.watch @ state.head_m)[:loggers] - head[t])
        out = use.drawn_l_s[t].sum() + state.leakage_l_s.sum()
        assert flow[t].sum() == pytest.approx(out, rel=0.01)
        assert flow[t] == pytest.approx(state.flow_l_s[true.meter_link], rel=0.05, abs=0.1)
    # Beside 0.05 m, the noise of an hour's mean of readings.
    assert np.sqrt(np.mean(np.square(errors))) < 0.03
