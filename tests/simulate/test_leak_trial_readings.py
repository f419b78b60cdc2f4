"""Readings of a drawn zone, and the event made of them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.schema.event_tables import EVENTS
from district.schema.outputs import ZONES
from district.schema.stored import HOURLY_FLOWS, HOURLY_PRESSURES
from district.simulate.leak_trial_readings import event_of, read_flows, read_pressures, zone_of

DAYS = pd.date_range("2025-03-03", periods=40)
NAMES = ["PL-1", "PL-2", "PL-3"]


def test_pressures_are_the_true_ones_offset_and_with_the_noise_of_four_readings() -> None:
    true = np.full((40 * 24, 3), 43.21)
    shown = read_pressures(np.random.default_rng(1), DAYS, NAMES, true, np.array([0.0, 1.0, -2.0]))
    assert list(shown.columns) == list(HOURLY_PRESSURES.names())
    assert not shown.duplicated(["device_id", "day", "hour"]).any()
    by_logger = shown.groupby("device_id")["pressure_m"]
    assert by_logger.mean().to_numpy() == pytest.approx([43.21, 44.21, 41.21], abs=0.06)
    # A reading's noise of 0.1 m and its rounding, 0.1 / sqrt(12), over four of them.
    assert by_logger.std().to_numpy() == pytest.approx(np.hypot(0.1, 0.0289) / 2, abs=0.02)


def test_some_hours_and_three_days_of_one_logger_are_lost() -> None:
    true = np.full((40 * 24, 3), 30.0)
    shown = read_pressures(np.random.default_rng(2), DAYS, NAMES, true, np.zeros(3))
    lost = 40 * 24 - shown.groupby("device_id").size()
    assert lost.max() >= 72
    assert 0 < lost.min() < 30


def test_a_meter_is_off_by_a_share_of_its_own() -> None:
    true = np.full((40 * 24, 200), 5.0)
    shown = read_flows(
        np.random.default_rng(3), DAYS, [f"M{n:03d}" for n in range(200)], true, error_percent=2.0
    )
    assert list(shown.columns) == list(HOURLY_FLOWS.names())
    off = shown.groupby("device_id")["flow_l_s"].mean() / 5.0 - 1.0
    # 95 % within 2 %.
    assert off.std() == pytest.approx(0.02 / 1.96, rel=0.2)
    assert (off.abs() < 0.02).mean() == pytest.approx(0.95, abs=0.05)


def night_flows(seed: int, *, rise_l_s: float, first: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    flow = 2.0 + rng.normal(0.0, 0.2, (40, 24))
    flow[first:] += rise_l_s
    return flow.ravel()


def test_the_size_of_an_event_holds_the_true_rise_in_its_limits() -> None:
    held, starts = 0, []
    for seed in range(200):
        event = event_of(
            np.random.default_rng(seed), DAYS, night_flows(seed, rise_l_s=0.5, first=20), 20
        )
        row = event.iloc[0]
        held += int(row["size_l_s_low"] <= 0.5 <= row["size_l_s_high"])
        starts.append((row["start"] - DAYS[20]).days)
        assert row["start_low"] <= DAYS[20] <= row["start_high"]
    assert 180 <= held <= 198
    assert set(starts) == {-1, 0, 1}


def test_the_tables_are_those_of_the_schema() -> None:
    event = event_of(np.random.default_rng(1), DAYS, night_flows(1, rise_l_s=1.0, first=25), 25)
    zones = zone_of(event, pressure_m=45.0)
    assert list(event.columns) == list(EVENTS.names())
    assert list(zones.columns) == list(ZONES.names())
    assert zones["excess_l_s_low"].iloc[0] < zones["excess_l_s"].iloc[0]
    assert zones["pressure_m"].to_list() == [45.0]
    assert event["state"].to_list() == ["open"]
