"""The size of a leak, against the published flows of bursts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from district.locate.size import BURST_SPREAD, OTHER_SHARE, size_evidence
from district.locate.spots import Sought
from tests.locate.streets import plain_spots

LEAK = Sought("E1", "V1", "leak", 0.44, 0.40, 0.48)
SHARES = np.array([0.0, 0.5, 1.0])


def ratio(sought: Sought, pressure_m: float = 50.0) -> float:
    """How many times likelier a connection is than a main."""
    told = size_evidence(plain_spots(SHARES), sought, pressure_m=pressure_m)
    return float(np.exp(told.log_likelihood[2] - told.log_likelihood[0]))


def flow(middle: float) -> Sought:
    return replace(LEAK, flow_l_s=middle, flow_l_s_low=0.9 * middle, flow_l_s_high=1.1 * middle)


def test_published_flows_speak_for_what_they_are_of() -> None:
    """1.6 m³/h of a connection and 12 m³/h of a main at 50 m (Lambert et al. 1999, from memory)."""
    assert ratio(flow(1.6 / 3.6)) > 4
    assert ratio(flow(12 / 3.6)) < 1 / 4


def test_likelihood_is_the_mixture_of_lognormals_it_says() -> None:
    """Against SciPy: means of 12 and 6 m³/h by 0.124 and 0.006 breaks, and 1.6 m³/h, at 50 m."""
    x, exact = 0.8, replace(LEAK, flow_l_s=0.8, flow_l_s_low=0.8, flow_l_s_high=0.8)

    def burst(mean_m3_h: float) -> float:
        scale = mean_m3_h / 3.6 * np.exp(-(BURST_SPREAD**2) / 2)
        return float(stats.lognorm.pdf(x, BURST_SPREAD, scale=scale))

    other = float(stats.lognorm.pdf(x, 1.5, scale=np.sqrt(12 * 1.6) / 3.6))
    main = (0.124 * burst(12) + 0.006 * burst(6)) / 0.130
    wanted = ((1 - OTHER_SHARE) * burst(1.6) + OTHER_SHARE * other) / (
        (1 - OTHER_SHARE) * main + OTHER_SHARE * other
    )
    assert ratio(exact) == pytest.approx(wanted)
    # A lognormal of that median has the published mean.
    mean = stats.lognorm.mean(BURST_SPREAD, scale=1.6 * np.exp(-(BURST_SPREAD**2) / 2))
    assert mean == pytest.approx(1.6)


def test_flows_are_in_proportion_to_pressure() -> None:
    assert ratio(flow(0.4), 25.0) == pytest.approx(ratio(flow(0.8), 50.0))
    assert ratio(flow(0.4), float("nan")) == pytest.approx(ratio(flow(0.4), 50.0))


def test_no_size_makes_either_impossible() -> None:
    sizes = [ratio(flow(q)) for q in (0.02, 0.1, 0.5, 2.0, 10.0, 50.0)]
    assert all(1 / 40 < r < 40 for r in sizes)


def test_a_spot_with_both_lies_between() -> None:
    a, both, b = size_evidence(plain_spots(SHARES), LEAK, pressure_m=50).log_likelihood
    assert np.exp(both) == pytest.approx((np.exp(a) + np.exp(b)) / 2)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"kind": "excess"}, "several leaks"),
        ({"kind": "growing_leak"}, "still grows"),
        ({"flow_l_s": 0.0}, "may be nothing"),
    ],
)
def test_what_has_no_one_size_tells_nothing(change: dict[str, object], word: str) -> None:
    told = size_evidence(plain_spots(SHARES), replace(LEAK, **change), pressure_m=50)  # type: ignore[arg-type]
    assert not told.used
    assert word in told.said
    assert not told.log_likelihood.any()


def test_it_is_said_in_plain_words() -> None:
    said = size_evidence(plain_spots(SHARES), LEAK, pressure_m=40.0).said
    assert said.startswith("0.44\xa0L/s (0.40 to 0.48) fits a connection")
    assert "at 40 m of pressure a main that bursts loses about 2.7 L/s" in said
    middling = size_evidence(plain_spots(SHARES), flow(0.95), pressure_m=50.0).said
    assert "fits a main and a connection alike" in middling
