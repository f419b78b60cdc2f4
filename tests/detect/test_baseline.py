"""Night flows made ready for the change test."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from district.detect.baseline import noises_l_s, on_calendar

Quiet = Callable[..., np.ndarray]


def noise_l_s(x: pd.Series, *, floor_l_s: float = 0.0) -> float:
    return float(noises_l_s(x.to_numpy()[None], floor_l_s=floor_l_s)[0][0])


def noise_limits_l_s(x: pd.Series, *, floor_l_s: float = 0.0) -> tuple[float, float]:
    _, low, high = noises_l_s(x.to_numpy()[None], floor_l_s=floor_l_s)
    return float(low[0]), float(high[0])


def daily(values: np.ndarray) -> pd.Series:
    return pd.Series(values, index=pd.date_range("2023-01-02", periods=len(values), freq="D"))


def test_nights_come_on_a_regular_calendar_whatever_their_order() -> None:
    rows = pd.DataFrame(
        {
            "night": pd.to_datetime(["2025-01-04", "2025-01-01", "2025-01-03", "2025-01-04"]),
            "cell_id": ["B", "A", "A", "B"],
            "flow": [4.0, 1.0, np.nan, 6.0],
        }
    )
    axis = pd.date_range("2025-01-01", "2025-01-05")
    names, flow = on_calendar(rows, "cell_id", "flow", axis)
    assert names == ["A", "B"]
    np.testing.assert_array_equal(flow[:, 0], [1.0, *[np.nan] * 4])
    np.testing.assert_array_equal(flow[:, 1], [np.nan] * 3 + [5.0, np.nan])


def test_no_rows_give_no_places() -> None:
    rows = pd.DataFrame({"night": [], "cell_id": [], "flow": []})
    names, flow = on_calendar(rows, "cell_id", "flow", pd.date_range("2025-01-01", periods=3))
    assert names == []
    assert flow.shape == (3, 0)


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_noise_is_the_standard_deviation_of_quiet_nights(quiet: Quiet, missing: float) -> None:
    found = []
    for seed in range(30):
        x = quiet(365, seed, sigma=0.05)
        x[np.random.default_rng(seed + 100).random(365) < missing] = np.nan
        found.append(noise_l_s(daily(x)))
    assert np.median(found) == pytest.approx(0.05, rel=0.1)


def test_steps_ramps_and_spikes_do_not_count_as_noise(quiet: Quiet) -> None:
    x = quiet(365, 1, sigma=0.05)
    before = noise_l_s(daily(x))
    x[200:] += 2
    x[300:] += 0.01 * np.arange(65)
    x[[50, 120]] += 5
    assert noise_l_s(daily(x)) == pytest.approx(before, rel=0.15)


def test_alike_neighbours_widen_the_noise_to_its_long_run_value() -> None:
    # An autoregression of 0.4 has long-run deviation sd x sqrt(1.4 / 0.6) = 1.53 sd.
    random = np.random.default_rng(2)
    found = []
    for _ in range(20):
        x = random.normal(size=800)
        for i in range(1, 800):
            x[i] = 0.4 * x[i - 1] + np.sqrt(1 - 0.16) * x[i]
        found.append(noise_l_s(daily(x)))
    assert np.mean(found) == pytest.approx(1.53, rel=0.15)


def test_lumpy_use_counts_as_noise() -> None:
    random = np.random.default_rng(3)
    x = np.abs(random.normal(0, 0.002, 365))
    x[random.random(365) < 0.1] = 0.1
    assert noise_l_s(daily(x)) > 0.02


def test_noise_has_a_floor() -> None:
    assert noise_l_s(daily(np.zeros(100)), floor_l_s=0.01) == 0.01


@pytest.mark.parametrize("carry", [0.0, 0.4])
@pytest.mark.parametrize("nights", [60, 300])
def test_the_limits_of_the_noise_hold_its_true_value(carry: float, nights: int) -> None:
    """200 drawn series: the long-run value lies within the 95 % limits in 87 % of them or more."""
    random = np.random.default_rng(nights)
    held = 0
    for _ in range(200):
        e, x = random.normal(size=nights + 50), np.zeros(nights + 50)
        for i in range(1, len(x)):
            x[i] = carry * x[i - 1] + e[i]
        low, high = noise_limits_l_s(daily(x[50:]))
        held += low <= 1 / (1 - carry) <= high
    assert held >= 174


def test_the_limits_lie_about_the_noise_and_above_its_floor(quiet: Quiet) -> None:
    x = daily(quiet(200, 8))
    low, high = noise_limits_l_s(x)
    assert low < noise_l_s(x) < high
    assert noise_limits_l_s(x, floor_l_s=1.0)[0] == 1.0
    assert noise_limits_l_s(daily(np.full(5, np.nan))) == (0.0, 0.0)
