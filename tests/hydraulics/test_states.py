"""Tests of `district.hydraulics.states`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics.states import day_states
from tests.hydraulics.known_zone import known_zone


def test_states_go_from_least_flow_to_most_and_keep_the_mean() -> None:
    zone = known_zone(1)
    seen = day_states(zone.drawn, zone.demands, zone.pressures, states_count=6)
    flow = seen.demand_l_s.sum(axis=1)
    assert (np.diff(flow) > 0).all()
    assert seen.hours_count.sum(axis=0).tolist() == [48] * len(zone.drawn.logger_id)
    assert flow.mean() == pytest.approx(zone.demands.rest_l_s.mean())
    assert (np.diff(seen.head_m.mean(axis=1)) < 0).all()


def test_heads_are_pressure_plus_the_gauges_level_or_the_grounds() -> None:
    zone = known_zone(1)
    level = zone.drawn.logger_level_m.copy()
    level[0] += 5.0
    level[1] = np.nan
    other = replace(zone.drawn, logger_level_m=level)
    one = day_states(zone.drawn, zone.demands, zone.pressures, states_count=4)
    two = day_states(other, zone.demands, zone.pressures, states_count=4)
    np.testing.assert_allclose((two.head_m - one.head_m)[:, 0], 5.0)
    np.testing.assert_allclose((two.head_m - one.head_m)[:, 1:], 0.0, atol=1e-9)


def test_a_missing_hour_of_a_cell_is_its_usual_one_and_days_can_be_chosen() -> None:
    zone = known_zone(1)
    rest = zone.demands.rest_l_s.copy()
    rest[:24] = np.nan
    gap = replace(zone.demands, rest_l_s=rest)
    second = zone.demands.hours["day"].iloc[-1]
    filled = day_states(zone.drawn, gap, zone.pressures, states_count=24)
    chosen = day_states(zone.drawn, zone.demands, zone.pressures, states_count=24, days=[second])
    np.testing.assert_allclose(filled.demand_l_s, chosen.demand_l_s)
    assert chosen.hours_count.sum(axis=0)[0] == 24


def test_a_logger_without_readings_has_no_head() -> None:
    zone = known_zone(1)
    some = zone.pressures[zone.pressures["device_id"] != "L2"]
    seen = day_states(zone.drawn, zone.demands, some, states_count=4)
    assert np.isnan(seen.head_m[:, 2]).all()
    assert np.isfinite(np.delete(seen.head_m, 2, axis=1)).all()
