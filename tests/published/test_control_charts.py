"""Mean nights to a false alarm of the change test, against two independent computations.

Brook D., Evans D.A. (1972) An approach to the probability distribution of CUSUM run length,
Biometrika 59(3) 539-549: the Markov chain below. Tables: Lucas J.M., Crosier R.B. (1982) Fast
initial response for CUSUM quality-control schemes, Technometrics 24(3) 199-205, as repeated in
textbooks of statistical quality control (from memory).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from district.detect.rhythm import day_features
from district.detect.sequential import watch
from district.locate.shown import alarm_limit, run_length
from district.night_noise import limit_for

# Shift in standard deviations -> mean run length, two sides, allowance 0.5 (from memory).
TABLE = {
    4.0: {0.0: 168, 0.25: 74.2, 0.5: 26.6, 0.75: 13.3, 1.0: 8.38, 1.5: 4.75, 2.0: 3.34},
    5.0: {0.0: 465, 0.25: 139, 0.5: 38.0, 0.75: 17.0, 1.0: 10.4, 1.5: 5.75, 2.0: 4.01},
}


def markov_run_length(limit: float, shift: float = 0.0, states: int = 400) -> float:
    """Mean run length of a one-sided cumulative sum with allowance 0.5, from a start at 0."""
    width = 2 * limit / (2 * states - 1)
    middle = np.arange(states) * width
    upper = middle[None, :] + width / 2 - middle[:, None] + 0.5 - shift
    step = norm.cdf(upper) - norm.cdf(upper - width)
    step[:, 0] = norm.cdf(upper[:, 0])
    return float(np.linalg.solve(np.eye(states) - step, np.ones(states))[0])


def two_sided(limit: float, shift: float) -> float:
    rates = [1 / markov_run_length(limit, s) for s in (shift, -shift)]
    return 1 / sum(rates)


@pytest.mark.parametrize(
    ("limit", "shift", "printed"), [(h, s, a) for h, row in TABLE.items() for s, a in row.items()]
)
def test_markov_chain_gives_the_published_run_lengths(
    limit: float, shift: float, printed: float
) -> None:
    assert two_sided(limit, shift) == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize("limit", [3.0, 4.0, 5.0, 6.0])
def test_our_approximation_agrees_with_the_markov_chain(limit: float) -> None:
    assert run_length(0.0, limit) == pytest.approx(markov_run_length(limit), rel=0.03)


@pytest.mark.parametrize("per_year", [0.1, 0.5, 1.0, 4.0])
def test_threshold_gives_the_stated_rate_of_false_alarms(per_year: float) -> None:
    nights = two_sided(alarm_limit(per_year, tests_count=2), 0.0)
    assert 365.25 / nights == pytest.approx(per_year, rel=0.03)


def two_years(seed: int, places: int) -> np.ndarray:
    """Nights as the limits were set on: correlation 0.3, shocks of Student's t with 5 degrees."""
    random = np.random.default_rng(seed)
    nights = random.standard_t(5, size=(730, places)) * np.sqrt(3 / 5)
    for night in range(1, 730):
        nights[night] = 0.3 * nights[night - 1] + np.sqrt(1 - 0.09) * nights[night]
    return 10 + nights


DAYS = day_features(pd.date_range("2023-01-01", periods=730, freq="D"), [])


@pytest.mark.parametrize("rate", [0.5, 2.0])
def test_false_alarms_come_at_the_stated_rate(rate: float) -> None:
    """Monte Carlo of the whole test on 250 drawn places, their second year."""
    told = watch(two_years(4, 250), limit=limit_for(rate), features=DAYS, shared=False).alarms
    alarms = sum(a.detected >= 365 for own in told for a in own)
    assert 0.6 * rate * 250 < alarms < 1.35 * rate * 250


def test_a_step_is_heard_about_as_soon_as_by_a_cumulative_sum_that_knows_the_level() -> None:
    """Markov chain of a two-sided cumulative sum at 0.5 false alarms a year, against our delay.

    Ours estimates level, noise and correlation from the nights before, and holds spikes back.
    """
    known = two_sided(alarm_limit(0.5, tests_count=2), 2.0)
    flow = 10 + np.random.default_rng(6).normal(size=(730, 200))
    flow[600:] += 2.0
    told = watch(flow, limit=limit_for(0.5), features=DAYS, shared=False).alarms
    delays = [
        next((a.detected - 599 for a in own if a.rise and a.detected >= 600), 130) for own in told
    ]
    assert known < np.mean(delays) < 2.0 * known
