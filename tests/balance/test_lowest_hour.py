"""The lowest of many hours, against order statistics, a known process and drawn nights."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from district.balance.lowest_hour import expected_shortfall, picked_lowest


@pytest.mark.parametrize(
    ("hours", "shortfall", "variance"),
    [(1, 0.0, 1.0), (2, 0.56419, 0.68169), (3, 0.84628, 0.55947), (6, 1.26721, 0.41593)],
)
def test_whole_hours_are_normal_order_statistics(
    hours: int, shortfall: float, variance: float
) -> None:
    """Expected extreme of n normal values: Harter 1961, Biometrika 48 (from memory)."""
    found, left = expected_shortfall(np.array(hours - 1.0), step_h=np.array(1.0))
    assert found == pytest.approx(shortfall, abs=0.001)
    assert left == pytest.approx(variance, abs=0.001)


def test_fine_steps_approach_the_continuous_moving_hour() -> None:
    """P(max over one hour of starts < u) = Phi² - u phi Phi - phi² (Slepian 1961, from memory).

    A maximum looked at in steps is lower by 0.5826 deviations of one step (Chernoff 1965;
    Broadie, Glasserman & Kou 1997: both from memory); one step here varies by 2/60.
    """
    u = np.linspace(-6, 8, 20_001)
    density = np.exp(-(u**2) / 2) / math.sqrt(2 * math.pi)
    below = np.array([0.5 * math.erfc(-x / math.sqrt(2)) for x in u])
    held = below**2 - u * density * below - density**2
    mean = np.trapezoid(np.where(u > 0, 1 - held, -held), u)
    found, _ = expected_shortfall(np.array(1.0), step_h=np.array(1 / 60))
    assert found == pytest.approx(mean - 0.5826 * math.sqrt(2 / 60), abs=0.01)


def test_between_the_entries_it_grows_with_span_and_falls_with_the_step() -> None:
    spans, _ = expected_shortfall(np.arange(0, 11.1, 0.25), step_h=np.array(0.25))
    steps, _ = expected_shortfall(np.array(5.0), step_h=np.arange(1, 61) / 60)
    assert (np.diff(spans) > 0).all()
    assert (np.diff(steps) < 0).all()


def drawn(rng: Any, *, bursts_h: float, step_h: float, hours: float, nights: int) -> Any:
    """Litres a step of bursts of mean 8 L: nights x steps."""
    counts = rng.poisson(bursts_h * step_h, (nights, round(hours / step_h)))
    # A sum of n draws of one gamma law is gamma of n times the shape.
    return np.where(counts > 0, rng.gamma(np.maximum(5.0 * counts, 0.1), 8.0 / 5.0), 0.0)


def moving_hours(litres: Any, step_h: float) -> Any:
    width = round(1 / step_h)
    return np.lib.stride_tricks.sliding_window_view(litres, width, axis=1).sum(axis=-1) / 3600


@pytest.mark.parametrize("step_h", [0.25, 1.0], ids=["quarters", "hours"])
@pytest.mark.parametrize("bursts_h", [4.0, 12.0, 300.0], ids=["hamlet", "village", "town"])
def test_the_shortfall_of_drawn_use_is_as_said(bursts_h: float, step_h: float) -> None:
    """Bursts at random moments, the same all night; independent of the table and formula."""
    rng = np.random.default_rng(4)
    hours = moving_hours(drawn(rng, bursts_h=bursts_h, step_h=step_h, hours=6, nights=4000), step_h)
    mean = bursts_h * 8 / 3600
    deviation = math.sqrt(1.2 * bursts_h) * 8 / 3600
    found = picked_lowest(
        np.array(mean),
        use_deviation_l_s=np.array(deviation),
        noise_deviation_l_s=np.array(0.0),
        other_deviation_l_s=np.array(0.0),
        seen_deviation_l_s=np.array(0.0),
        step_h=np.array(step_h),
        least_span_h=5.0,
        most_span_h=5.0,
    )
    lowest = hours.min(axis=1)
    assert found.use == pytest.approx(mean - lowest.mean(), rel=0.06)
    assert found.share * deviation == pytest.approx(lowest.std(), rel=0.2)
    assert found.spread == 0.0


def test_use_measured_in_the_same_hour_takes_most_of_the_picking() -> None:
    """A laundry told by its meter varies thrice as much: the hour is picked by the laundry."""
    rng = np.random.default_rng(5)
    litres = drawn(rng, bursts_h=60, step_h=0.25, hours=6, nights=4000)
    noise = rng.normal(0, 0.01, (4000, 21))
    own = moving_hours(litres, 0.25)
    deviation = math.sqrt(1.2 * 60) * 8 / 3600
    laundry = moving_hours(rng.normal(0, 3 * deviation * 3600 / 2, litres.shape), 0.25)
    at = (own + laundry + noise).argmin(axis=1)[:, None]
    found = picked_lowest(
        np.array(60 * 8 / 3600),
        use_deviation_l_s=np.array(deviation),
        noise_deviation_l_s=np.array(0.01),
        other_deviation_l_s=np.array(3 * deviation),
        seen_deviation_l_s=np.array(0.0),
        step_h=np.array(0.25),
        least_span_h=5.0,
        most_span_h=5.0,
    )
    short = 60 * 8 / 3600 - np.take_along_axis(own, at, axis=1).mean()
    assert found.use == pytest.approx(short, rel=0.15)
    assert found.noise == pytest.approx(-np.take_along_axis(noise, at, axis=1).mean(), rel=0.4)


def test_the_shortfall_lies_between_the_two_spans_and_below_the_use_itself() -> None:
    parts = {
        "use_deviation_l_s": np.array([0.01, 0.5]),
        "noise_deviation_l_s": np.array(0.0),
        "other_deviation_l_s": np.array(0.0),
        "seen_deviation_l_s": np.array(0.0),
        "step_h": np.array(1.0),
    }
    both, near, far = (
        picked_lowest(np.array([1.0, 0.1]), **parts, least_span_h=a, most_span_h=b)
        for a, b in ((1.0, 5.0), (1.0, 1.0), (5.0, 5.0))
    )
    assert near.use[0] < both.use[0] < far.use[0]
    assert both.spread[0] == pytest.approx((far.use[0] - near.use[0]) / math.sqrt(12), rel=0.02)
    assert (both.use <= [1.0, 0.1]).all()


def test_nothing_that_varies_is_picked_from() -> None:
    still = np.array(0.0)
    found = picked_lowest(
        np.array(0.4),
        use_deviation_l_s=still,
        noise_deviation_l_s=still,
        other_deviation_l_s=still,
        seen_deviation_l_s=still,
        step_h=np.array(0.25),
        least_span_h=1.0,
        most_span_h=5.0,
    )
    assert found == (0.0, 0.0, 0.0, 1.0)


def test_nights_that_differ_by_more_than_is_allowed_for_let_the_shortfall_grow() -> None:
    parts = {
        "use_l_s": np.array(1.0),
        "use_deviation_l_s": np.array(0.1),
        "noise_deviation_l_s": np.array(0.0),
        "other_deviation_l_s": np.array(0.0),
        "step_h": np.array(0.25),
        "least_span_h": 5.0,
        "most_span_h": 5.0,
    }
    quiet = picked_lowest(**parts, seen_deviation_l_s=np.array(0.0))
    made = quiet.share * 0.1
    alike, twice, wild = (
        picked_lowest(**parts, seen_deviation_l_s=k * made) for k in (1.0, 2.0, 100.0)
    )
    assert alike == quiet
    assert twice.use == pytest.approx(1.5 * quiet.use)
    assert twice.spread == pytest.approx(quiet.use / math.sqrt(12))
    # Never more than there is.
    assert wild.use == pytest.approx((quiet.use + 1.0) / 2)
