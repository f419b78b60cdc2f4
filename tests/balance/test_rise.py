"""The rate of rise from the record."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.rise import LEAST_WEEKS, chance_limits, rate_of_rise, rates_of_rise

WEEKS = np.arange(53)
QUIET = np.zeros(52, dtype=bool)


def rate(
    level: Any, repaired: Any = QUIET, noise: float = 1.0, season: float = 0.0, typical: float = 0.0
) -> Any:
    return rate_of_rise(
        np.asarray(level, dtype=float),
        week_number=WEEKS,
        noise_m3_d=noise,
        repaired=repaired,
        season_m3_d=season,
        typical_m3_d=typical,
    )


def test_steady_growth_is_the_rate() -> None:
    (found, low, high), steps = rate(20 + 0.5 * WEEKS)
    assert found == pytest.approx(0.5 * 365 / 7)
    assert (steps.falls, steps.known) == (0, 0)
    # Two ends of a noise of 1 over 49 weeks, and chance.
    noise = 1.96 * np.sqrt(2.0) * 365 / (49 * 7)
    assert found - low > noise
    assert high - found > noise


def test_a_repair_is_put_back() -> None:
    # Grows by half a m³/d a week; 20 are repaired after 30 weeks.
    (found, *_), steps = rate(20 + 0.5 * WEEKS - 20.0 * (WEEKS >= 30))
    assert found == pytest.approx(0.5 * 365 / 7, rel=0.05)
    assert steps.falls == 1


def test_a_leak_soon_repaired_was_known_and_does_not_count() -> None:
    soon = 50.0 * ((WEEKS >= 20) & (WEEKS < 26))
    late = 50.0 * ((WEEKS >= 20) & (WEEKS < 40))
    (found, *_), steps = rate(10 + soon)
    assert found == pytest.approx(0.0, abs=1e-9)
    assert (steps.falls, steps.known) == (1, 1)
    (found, low, high), steps = rate(10 + late)
    assert found == pytest.approx(50 * 365 / (49 * 7))
    assert (steps.falls, steps.known) == (1, 0)
    # One leak in a year tells little of the next: 0.025 to 5.57 of them (exact Poisson limits of a
    # count of one, from memory), and the noise.
    assert low / found == pytest.approx(0.025, abs=0.1)
    assert high / found == pytest.approx(5.57, abs=0.1)


def test_a_leak_that_grows_counts_once() -> None:
    grown = np.clip(WEEKS - 30, 0, 10) * 8.0
    (found, _, high), _ = rate(grown)
    assert high / found == pytest.approx(5.57, abs=0.1)


@pytest.mark.parametrize(
    ("count", "low", "high"), [(1, 0.0253, 5.57), (5, 1.62, 11.67), (10, 4.80, 18.39)]
)
def test_leaks_of_one_size_have_the_limits_of_their_count(
    count: int, low: float, high: float
) -> None:
    # Exact 95 % limits of a Poisson count, as tables of statistics print them (from memory).
    found = chance_limits(3.0 * count, sizes_m3_d=np.full(count, 3.0), unseen_m3_d=0.01)
    assert found == pytest.approx((3 * low, 3 * high), rel=0.01)


def test_no_leak_seen_is_not_none_to_come() -> None:
    # The upper limit of a count of none is 3.69.
    assert chance_limits(0.0, sizes_m3_d=np.zeros(0), unseen_m3_d=2.0) == pytest.approx(
        (0, 7.38), rel=0.01
    )
    low, high = chance_limits(-5.0, sizes_m3_d=np.zeros(0), unseen_m3_d=2.0)
    assert low == -5.0
    assert high > 0


def test_a_small_fall_counts_where_a_repair_is_recorded() -> None:
    level = 30.0 - 4.0 * (WEEKS >= 30)
    repaired = QUIET.copy()
    repaired[29] = True
    assert rate(level)[0][0] == pytest.approx(-4 * 365 / (49 * 7))
    assert rate(level, repaired)[0][0] == pytest.approx(0.0, abs=1e-9)


def test_noise_of_the_levels_themselves_counts() -> None:
    rng = np.random.default_rng(3)
    (found, low, _), steps = rate(50 + rng.normal(0, 4.0, len(WEEKS)), noise=0.0)
    assert found - low > 1.96 * 4.0 * np.sqrt(2) * 365 / (49 * 7) * 0.65
    assert steps.falls == 0


def test_the_season_is_in_the_limits() -> None:
    (plain, low, _), _ = rate(0 * WEEKS)
    (_, lower, _), _ = rate(0 * WEEKS, season=3.0)
    season = 1.96 * 3 * 365 / (49 * 7)
    assert plain - lower == pytest.approx(np.hypot(plain - low, season))


@pytest.mark.parametrize(("leaks", "mean"), [(8, 6.0), (3, 15.0), (20, 3.0)])
def test_limits_hold_the_true_rate_of_many_invented_zones(leaks: int, mean: float) -> None:
    """Leaks break out at random and stay until the one survey a year finds half of them."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(200):
        size = rng.exponential(mean, rng.poisson(leaks))
        start = rng.uniform(0, 53, len(size))
        level = 40 + (size[:, None] * (start[:, None] <= WEEKS)).sum(axis=0)
        level -= level[30] * 0.5 * (WEEKS > 30)
        level += rng.normal(0, 0.8, len(WEEKS))
        (_, low, high), _ = rate(level, noise=0.8, typical=mean)
        held.append(low <= leaks * mean * 365 / (53 * 7) <= high)
    assert 0.9 <= np.mean(held) <= 1.0


def nights_of(level: Any, works: Any = "") -> pd.DataFrame:
    night = pd.date_range("2025-01-01", periods=len(level), freq="D")
    return pd.DataFrame(
        {
            "cell_id": "A",
            "night": night,
            "status": np.where(np.isfinite(level), "measured", "no_inflow"),
            "leakage_m3_d": level,
            "legitimate_use_l_s": 0.1,
            "works": works,
        }
    )


def test_a_short_record_tells_no_rate() -> None:
    found = rates_of_rise(nights_of(np.full(170, 5.0)), pd.Index(["A"]))
    assert np.isnan(found.rate.value).all()
    assert found.notes == (
        f"not known: 24 weeks with 3 usable nights or more, {LEAST_WEEKS} are needed",
    )
    assert (
        "not known: 0 weeks" in rates_of_rise(nights_of(np.array([1.0])), pd.Index(["A"])).notes[0]
    )


def test_nights_with_works_and_gaps_tell_nothing_and_repairs_are_seen() -> None:
    day = np.arange(364)
    level = 20.0 + day / 7 - 6.0 * (day >= 200)
    level[(day >= 100) & (day < 121)] = np.nan
    level[200] = 900.0
    works = np.where(day == 200, "flushing, repair", "")
    found = rates_of_rise(nights_of(level, works), pd.Index(["A"]))
    assert float(found.rate.value[0]) == pytest.approx(365 / 7, rel=0.05)
    assert found.rate.low[0] < 365 / 7 < found.rate.high[0]
    assert found.notes[0] == "from 49 weeks; 1 fall taken for repairs"


def test_half_a_year_says_that_the_season_counts() -> None:
    found = rates_of_rise(nights_of(np.full(200, 5.0)), pd.Index(["A"]))
    assert found.notes[0].endswith("less than a year, so the season is in the limits")
    assert float(found.rate.value[0]) == 0.0
    assert found.rate.low[0] < 0 < found.rate.high[0]
