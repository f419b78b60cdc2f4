"""Mean nights to a false alarm of the change test, against two independent computations.

Brook D., Evans D.A. (1972) An approach to the probability distribution of CUSUM run length,
Biometrika 59(3) 539-549: the Markov chain below. Tables: Lucas J.M., Crosier R.B. (1982) Fast
initial response for CUSUM quality-control schemes, Technometrics 24(3) 199-205, as repeated in
textbooks of statistical quality control (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from district.detect.change import changes, run_length, threshold

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
    assert run_length(limit) == pytest.approx(markov_run_length(limit), rel=0.03)


@pytest.mark.parametrize("per_year", [0.1, 0.5, 1.0, 4.0])
def test_threshold_gives_the_stated_rate_of_false_alarms(per_year: float) -> None:
    nights = two_sided(threshold(per_year), 0.0)
    assert 365.25 / nights == pytest.approx(per_year, rel=0.03)


def test_quiet_series_do_not_exceed_the_stated_rate() -> None:
    """Monte Carlo of the whole test, baseline estimated: 200 years at 2 false alarms a year."""
    random = np.random.default_rng(4)
    years, rate = 200, 2.0
    alarms = sum(
        len(changes(random.normal(size=366), sigma_l_s=1.0, false_alarms_per_year=rate))
        for _ in range(years)
    )
    # Those that do not stand out once all nights are known are taken back, so fewer is right.
    assert 0.3 * rate * years < alarms < rate * years + 3 * np.sqrt(rate * years)
