"""Valves replayed on histories whose trips and losses can be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from district.detect.shutoff_history import outside
from district.detect.shutoff_leaks import ASSUMED_L_S, UNNOTICED_H, spans_apart
from district.detect.shutoff_replay import (
    Replay,
    replayed,
    settings_table,
    trip_flows_l_s,
    trip_times_h,
    unbettered,
)
from tests.detect.shutoff_made import every_day, history, leak


def replay(flow: np.ndarray, *leaks, step_h: float = 1.0, resolution_m3: float = np.nan) -> Replay:
    made = history(flow, step_h=step_h)
    free = outside(made, spans_apart(leaks))
    return replayed(made, leaks, free=free, resolution_m3=resolution_m3)


def at(found: Replay, trip_h: float, *, below_l_s: float) -> tuple[int, int]:
    """Position of a time, and of the highest flow below one."""
    return int(np.flatnonzero(found.trip_l_s < below_l_s)[-1]), int(
        np.flatnonzero(np.isclose(found.trip_h, trip_h))[0]
    )


def test_two_hours_of_use_a_day_trip_by_the_time_of_the_valve() -> None:
    found = replay(every_day(100, range(8, 10), 0.5))
    for trip_h, counted, least in ((2, 100, 100), (3, 100, 0), (4, 0, 0)):
        n, t = at(found, trip_h, below_l_s=0.5)
        assert found.false_count[n, t] == counted
        assert found.false_least_count[n, t] == least
    # No flow above half a litre a second ever ran.
    assert not found.false_count[found.trip_l_s >= 0.5].any()
    assert found.span_years == pytest.approx(100 * 24 / 8766)


def test_water_turned_on_again_trips_it_again() -> None:
    flow = np.zeros(2400)
    flow[100:112] = 0.5
    found = replay(flow)
    n, t = at(found, 4, below_l_s=0.5)
    # Twelve hours as read: three times four; thirteen at most.
    assert (found.false_least_count[n, t], found.false_count[n, t]) == (3, 3)
    n, t = at(found, 6, below_l_s=0.5)
    assert (found.false_least_count[n, t], found.false_count[n, t]) == (2, 2)


def test_a_leak_stops_at_the_time_of_the_valve_where_it_runs_above_its_flow() -> None:
    flow = every_day(100, range(8, 10), 0.5)
    flow[1200:1440] += 0.2
    found = replay(flow, leak(1200, 1440, 0.2))
    whole = 0.2 * 3.6 * 240
    assert found.leaked_m3 == pytest.approx((whole, 0.9 * whole, 1.1 * whole))
    n, t = at(found, 4, below_l_s=0.19)
    assert [limit[n, t] for limit in found.lost_m3] == pytest.approx(
        [0.2 * 3.6 * 4, 0.9 * 0.2 * 3.6 * 4, 1.1 * 0.2 * 3.6 * 4]
    )
    # The day of the leak and one on either side are not held against the valve.
    assert found.false_count[at(found, 2, below_l_s=0.19)] == 100 - 12


def test_a_leak_below_the_flow_is_caught_only_while_use_comes_on_top() -> None:
    flow = every_day(100, range(8, 10), 0.5)
    flow[1200:1440] += 0.2
    found = replay(flow, leak(1200, 1440, 0.2))
    n, t = at(found, 2, below_l_s=0.5)
    assert found.trip_l_s[n] > 0.2
    # It runs to ten in the morning, when two hours of use have passed: from wherever it began
    # between two and 26 hours, 14 on average.
    value, low, high = (limit[n, t] / (0.2 * 3.6) for limit in found.lost_m3)
    assert 0.9 * 2 - 1e-9 <= low < value < high <= 1.1 * 26 + 1e-9
    assert value == pytest.approx(14, rel=0.1)
    n, t = at(found, 3, below_l_s=0.5)
    assert found.lost_m3[0][n, t] == pytest.approx(found.leaked_m3[0])


def test_of_a_growing_leak_the_first_hours_cost_little() -> None:
    flow = np.zeros(2400)
    flow[1200:1440] = np.linspace(0, 0.413, 241)[1:]
    found = replay(flow, leak(1200, 1440, 0.413, grows=True))
    n, t = at(found, 24, below_l_s=0.1)
    over = np.flatnonzero(flow > found.trip_l_s[n])[0] - 1200 + 24
    assert found.lost_m3[0][n, t] == pytest.approx(found.leaked_m3[0] * (over / 240) ** 2)


def test_without_a_leak_on_record_bursts_are_assumed() -> None:
    found = replay(every_day(100, range(8, 10), 0.2))
    total = sum(ASSUMED_L_S.values())
    assert found.leaked_m3[0] == pytest.approx(total * 3.6 * UNNOTICED_H)
    n, t = at(found, 4, below_l_s=0.2)
    assert found.lost_m3[0][n, t] == pytest.approx(total * 3.6 * 4)


def test_an_assumed_burst_below_the_flow_waits_for_use() -> None:
    # Use of two hours a day lifts a quarter litre over the flow: 22 h apart, eleven on average.
    found = replay(every_day(100, range(8, 10), 1.2))
    n, t = at(found, 2, below_l_s=1.0)
    flow = found.trip_l_s[n]
    assert 0.25 < flow < 1.0
    value, low, high = (limit[n, t] for limit in found.lost_m3)
    sure = 1.0 * 3.6 * 2
    assert sure + 0.25 * 3.6 * 2 <= low <= value <= high <= sure + 0.25 * 3.6 * 26
    assert value == pytest.approx(sure + 0.25 * 3.6 * 14, rel=0.1)


def test_readings_bound_the_times_that_can_be_spoken_of() -> None:
    assert trip_times_h(1.0)[0] == 2
    assert trip_times_h(0.25)[0] == 0.5
    assert trip_times_h(1 / 12)[0] == pytest.approx(1 / 6)
    assert trip_times_h(0.25)[-1] == trip_times_h(1.0)[-1] == 24


def test_flows_stay_above_what_one_pulse_shows() -> None:
    made = history(every_day(100, range(8, 10), 0.5))
    free = np.ones(len(made.start_us), dtype=bool)
    # A pulse of 100 L in an hour is 0.028 L/s.
    coarse = trip_flows_l_s(made, (), free=free, resolution_m3=0.1)
    assert coarse.min() >= 0.1 / 3.6 - 1e-9
    assert coarse.max() > 0.5
    assert trip_flows_l_s(made, (), free=free, resolution_m3=np.nan).min() == 0.005


def test_only_settings_that_none_betters_are_on_the_curve() -> None:
    flow = every_day(100, range(8, 10), 0.5)
    flow[1200:1440] += 0.2
    curve = unbettered(settings_table(replay(flow, leak(1200, 1440, 0.2))))
    assert curve["false_trips_per_year"].is_monotonic_increasing
    assert curve["leaked_with_m3"].is_monotonic_decreasing
    assert curve["leaked_with_m3"].is_unique
    first = curve.iloc[0]
    assert (first["false_trips_per_year"], first["trip_h"]) == (0, 4)
    assert first["leaked_with_m3"] == pytest.approx(2.88)
    # A run one reading short counts: three hours are as bad as two here, and lose more.
    assert set(curve["trip_h"]) == {4, 2}


FLOWS = arrays.arrays(
    float,
    st.integers(2, 24 * 8),
    elements=st.sampled_from([0.0, 0.0, 0.02, 0.1, 0.1, 0.5, 1.5]),
)


@settings(max_examples=60, deadline=None)
@given(FLOWS)
def test_more_flow_or_more_time_never_trips_more_often(flow: np.ndarray) -> None:
    found = replay(flow)
    for count in (found.false_count, found.false_least_count):
        assert (np.diff(count, axis=0) <= 0).all()
        assert (np.diff(count, axis=1) <= 0).all()
    assert (found.false_least_count <= found.false_count).all()


@settings(max_examples=60, deadline=None)
@given(FLOWS, st.integers(0, 100), st.integers(1, 100))
def test_more_time_or_flow_never_saves_more_and_limits_hold_the_value(
    flow: np.ndarray, first: int, hours: int
) -> None:
    last = min(first + hours, len(flow))
    leaks = (leak(first, last, 0.1),) if last > first else ()
    found = replay(flow, *leaks)
    value, low, high = found.lost_m3
    assert (low <= value + 1e-9).all()
    assert (value <= high + 1e-9).all()
    assert (value <= found.leaked_m3[0] + 1e-9).all()
    assert (np.diff(value, axis=0) >= -1e-9).all()
    assert (np.diff(value, axis=1) >= -1e-9).all()
    if found.span_years > 0:
        table = settings_table(found)
        rate = table["false_trips_per_year"]
        assert (table["false_trips_per_year_low"] <= rate).all()
        assert (rate <= table["false_trips_per_year_high"]).all()
