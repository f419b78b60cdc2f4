from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.constant import by_habit, hidden_l_s, lone_steps, never_zero, shown_l_s
from district.detect.unbroken import last_rows, unbroken
from tests.detect.still_series import household, registered, still_of


def days_and_own(
    series: dict[str, Any], *, step_l: float = 1.0, rate_step_l_s: float = 0.0
) -> tuple[pd.DataFrame, pd.DataFrame]:
    rows = unbroken(still_of(series))
    own = last_rows(rows).rename(columns={"day": "last"})
    return rows, own.assign(step_l=step_l, rate_step_l_s=rate_step_l_s, error_share=0.02)


@pytest.mark.parametrize("step_l", [0.1, 1.0, 10.0])
@pytest.mark.parametrize("leak_l_h", [12.3, 17.8, 41.6])
@pytest.mark.parametrize("seed", range(3))
def test_a_constant_flow_lies_within_its_limits(step_l: float, leak_l_h: float, seed: int) -> None:
    litres = registered(household(20, seed) + leak_l_h, step_l, offset_l=0.37 * step_l)
    rows, own = days_and_own({"A": litres}, step_l=step_l)
    found = never_zero(rows, own, never_zero_h=24).loc["A"] * 3600
    assert found["constant_l_s_low"] <= leak_l_h <= found["constant_l_s_high"]
    assert found["constant_l_s_high"] - found["constant_l_s_low"] <= 2.1 * step_l + 0.05 * leak_l_h
    assert found["constant_l_s"] == pytest.approx(leak_l_h, abs=step_l)


def test_only_hours_enough_without_a_stop_count() -> None:
    litres = household(10, 1)
    litres[-31], litres[-30:] = 0.0, litres[-30:] + 3.0
    rows, own = days_and_own({"A": litres})
    assert never_zero(rows, own, never_zero_h=30).index.to_list() == ["A"]
    assert never_zero(rows, own, never_zero_h=31).empty


def test_a_flow_is_sized_by_its_last_days() -> None:
    litres = np.r_[np.full(24 * 20, 30.0), np.full(24 * 16, 10.0)]
    rows, own = days_and_own({"A": litres})
    assert never_zero(rows, own, never_zero_h=24)["constant_l_s"].to_numpy() * 3600 == [
        pytest.approx(10.5)
    ]


def test_a_rate_meter_is_as_wrong_either_way() -> None:
    litres = np.full(24 * 5, 36.0)
    rows, own = days_and_own({"A": litres}, step_l=0.0, rate_step_l_s=0.002)
    found = never_zero(rows, own, never_zero_h=24).loc["A"]
    low, high = 0.01 * 0.98 - 0.001, 0.01 * 1.02 + 0.001
    assert found.iloc[:3].to_list() == pytest.approx([0.01, low, high])


def test_lowest_hours_that_differ_are_not_steady() -> None:
    day = np.full(24, 50.0)
    rows, own = days_and_own(
        {"even": np.tile(day, 10), "odd": np.concatenate([day * (1 + i % 3) for i in range(10)])}
    )
    found = never_zero(rows, own, never_zero_h=24)
    assert found["steady"].to_dict() == {"even": True, "odd": False}


def week_of_shifts(weeks: int, hours: int) -> np.ndarray:
    """Flow at all hours from Monday to Friday, cut after so many hours of the last week."""
    hour = np.arange(24 * 7 * weeks)
    return np.where(hour // 24 % 7 < 5, 20.0, 0.0)[: 24 * 7 * (weeks - 1) + hours]


def test_a_run_as_in_three_weeks_before_is_a_habit() -> None:
    rows, own = days_and_own(
        {
            "shift": week_of_shifts(5, 110),
            "new": week_of_shifts(3, 110),
            "longer": np.r_[week_of_shifts(5, 110), np.full(24 * 3, 20.0)],
        }
    )
    assert by_habit(rows, own).to_list() == ["shift"]


@pytest.mark.parametrize("step_l", [10.0, 100.0])
@pytest.mark.parametrize("hours", [2.2, 3.5, 4.9])
@pytest.mark.parametrize("seed", range(4))
def test_lone_steps_evenly_apart_are_sized_by_their_distance(
    step_l: float, hours: float, seed: int
) -> None:
    leak_l_h = step_l / hours
    litres = registered(household(20, seed, start=10) + leak_l_h, step_l)
    rows, own = days_and_own({"A": litres}, step_l=step_l)
    found = lone_steps(rows, own).loc["A"] * 3600
    assert found["constant_l_s_low"] <= leak_l_h <= found["constant_l_s_high"]


def test_steps_of_use_are_not_evenly_apart() -> None:
    series = {str(i): registered(household(30, i), 10.0) for i in range(40)}
    rows, own = days_and_own(series, step_l=10.0)
    assert lone_steps(rows, own).empty


@pytest.mark.parametrize("night_h", [3, 5, 6])
def test_people_who_keep_the_same_hours_every_night_are_no_constant_flow(night_h: int) -> None:
    hours = np.arange(24 * 40) % 24
    litres = np.where(hours < night_h, 0.0, 12.0)
    rows, own = days_and_own({"A": litres})
    assert lone_steps(rows, own).empty


def test_no_flow_hides_that_would_have_moved_the_register() -> None:
    own = pd.DataFrame({"step_l": [10.0, 0.0, np.nan], "rate_step_l_s": [0, 0.002, 0]})
    own["error_share"] = 0.02
    spell = pd.Series([8.0, 8.0, 8.0])
    hidden = hidden_l_s(spell, own)
    assert hidden[:2].to_list() == pytest.approx([10 / (8 * 3600) * 1.02, 0.001 * 1.02])
    assert np.isnan(hidden[2])
    assert np.isnan(hidden_l_s(spell * 0, own)).all()


@pytest.mark.parametrize("seed", range(20))
def test_the_bound_of_what_hides_is_never_below_a_true_flow(seed: int) -> None:
    rng = np.random.default_rng(seed)
    step_l, leak_l_h = rng.choice([1.0, 10.0, 100.0]), rng.uniform(0.05, 20)
    litres = registered(household(20, seed) + leak_l_h, step_l, offset_l=rng.uniform(0, step_l))
    rows, own = days_and_own({"A": litres}, step_l=step_l)
    hidden = hidden_l_s(rows.groupby("device_id")["spell_h"].max(), own)
    assert not hidden["A"] * 3600 < leak_l_h


def test_ten_litres_a_pulse_read_hourly_show_no_less_than_ten_litres_an_hour() -> None:
    own = pd.DataFrame({"step_l": [10.0], "rate_step_l_s": [0.0]})
    assert shown_l_s(pd.Series([1.0]), own).to_numpy() * 3600 == pytest.approx([10.0])
    assert shown_l_s(pd.Series([10.0]), own).to_numpy() * 3600 == pytest.approx([1.0])
