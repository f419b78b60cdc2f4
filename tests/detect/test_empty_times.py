from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.empty_times import in_empty_hours
from tests.detect.still_series import registered, still_of

DAYS = 40
HOUR, WEEKDAY = np.arange(24 * DAYS) % 24, np.arange(24 * DAYS) // 24 % 7
EMPTY = (HOUR < 7) | (HOUR >= 18) | (WEEKDAY >= 5)


def school(seed: int) -> np.ndarray:
    """Litres an hour of a building where nobody is at night and on weekends."""
    rng = np.random.default_rng(seed)
    return np.where(EMPTY, 0.0, 60.0 * rng.poisson(2, 24 * DAYS))


def found_in(litres: Any, *, step_l: float = 1.0) -> pd.Series:
    still = still_of({"A": litres}, empty=EMPTY)
    own = pd.DataFrame(
        {"last": still["day"].max(), "step_l": step_l, "rate_step_l_s": 0.0, "error_share": 0.02},
        index=["A"],
    )
    return in_empty_hours(still, own).loc["A"]


@pytest.mark.parametrize("step_l", [1.0, 10.0, 100.0])
@pytest.mark.parametrize("leak_l_h", [0.8, 4.0, 30.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_flow_in_empty_hours_lies_within_its_limits(
    step_l: float, leak_l_h: float, seed: int
) -> None:
    litres = registered(school(seed) + leak_l_h, step_l, offset_l=0.3 * step_l)
    found = found_in(litres, step_l=step_l)
    low, high = found["constant_l_s_low"] * 3600, found["constant_l_s_high"] * 3600
    assert low <= leak_l_h <= high
    assert high - low <= 0.05 * leak_l_h + 0.3 * step_l


def test_limits_hold_the_truth_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(7)
    held = []
    for _ in range(60):
        leak_l_h, step_l = rng.uniform(0.3, 8), rng.choice([1.0, 10.0])
        litres = registered(school(1) + leak_l_h, step_l, offset_l=rng.uniform(0, step_l))
        found = found_in(litres, step_l=step_l)
        low, high = found["constant_l_s_low"] * 3600, found["constant_l_s_high"] * 3600
        held.append(low <= leak_l_h <= high)
    assert np.mean(held) >= 0.95


def test_a_visit_at_night_is_set_aside() -> None:
    litres = school(1) + 3.0
    litres[[24 * 25 + 20, 24 * 31 + 21]] += 500.0
    found = found_in(litres)
    assert found["constant_l_s"] * 3600 == pytest.approx(3.0, rel=0.02)


def test_it_is_dated_by_the_first_of_the_days_in_a_row() -> None:
    litres = school(1)
    litres[24 * 30 :] += 4.0
    found = found_in(registered(litres, 1.0))
    assert found["since"] == pd.Timestamp("2025-04-02")
    assert (found["since_known"], found["in_a_row"]) == (True, True)
    always = found_in(registered(school(1) + 4.0, 1.0))
    assert (always["since"], always["since_known"]) == (pd.Timestamp("2025-03-03"), False)


def test_no_flow_is_none_and_one_step_is_not_enough() -> None:
    none = found_in(registered(school(1), 10.0), step_l=10.0)
    assert (none["constant_l_s_low"], none["enough"]) == (0.0, False)
    litres = registered(school(1), 10.0)
    litres[24 * 37 + 2] = 10.0
    assert not found_in(litres, step_l=10.0)["enough"]


def test_meters_without_empty_hours_have_no_row() -> None:
    still = still_of({"A": school(1)})
    own = pd.DataFrame(
        {"last": still["day"].max(), "step_l": 1.0, "rate_step_l_s": 0.0, "error_share": 0.0},
        index=["A"],
    )
    assert in_empty_hours(still, own).empty
