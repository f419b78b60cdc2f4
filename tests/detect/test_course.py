"""What the test learns of each place from its own nights."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.course import FIRST_NIGHTS, begun, join, learn, night_taken, rough


def after(flow: np.ndarray, floor_l_s: float = 0.0):
    course = begun(flow, np.zeros((len(flow), 9)), False, floor_l_s)
    for night in range(len(flow)):
        if night % 14 == 0:
            learn(course, night)
        night_taken(course, night)
        join(course, night)
    learn(course, len(flow))
    return course


def drawn(seed: int, carry: float, nights: int = 400, places: int = 60) -> np.ndarray:
    random = np.random.default_rng(seed)
    flow = random.normal(size=(nights, places))
    for night in range(1, nights):
        flow[night] = carry * flow[night - 1] + np.sqrt(1 - carry**2) * flow[night]
    return 10 + flow


@pytest.mark.parametrize("carry", [0.0, 0.3, 0.6])
def test_noise_and_what_nights_carry_over_are_those_drawn(carry: float) -> None:
    course = after(drawn(1, carry))
    noise = course.unit_l_s * course.noise
    assert np.median(noise) == pytest.approx(1.0, abs=0.12)
    # Correlation estimated by some 240 nights, the usual one weighing as much as 20.
    expected = (240 * carry + 20 * 0.25) / 260
    assert np.median(course.filter.carry_share) == pytest.approx(min(expected, 0.6), abs=0.1)


def test_spikes_hardly_count_as_noise() -> None:
    flow = drawn(2, 0.0)
    flow[::20] += 30.0
    noise = after(flow)
    assert np.median(noise.unit_l_s * noise.noise) == pytest.approx(1.2, abs=0.25)


def test_a_place_joins_with_its_first_nights_and_takes_them_in() -> None:
    flow = drawn(3, 0.0, 40, 3)
    flow[:10, 1] = np.nan
    flow[FIRST_NIGHTS - 1 :, 2] = np.nan
    course = after(flow)
    assert (course.unit_l_s > 0).tolist() == [True, True, False]
    assert course.seen.tolist() == [40, 30, 0]
    assert course.filter.mean[:2, 0] * course.unit_l_s[:2] == pytest.approx([10, 10], abs=1.5)


def test_the_noise_is_no_less_than_the_floor() -> None:
    flow = np.full((60, 1), 2.0)
    course = after(flow, floor_l_s=0.1)
    assert course.unit_l_s * course.noise == pytest.approx([0.1], rel=0.3)
    assert (course.unit_l_s * course.noise >= 0.1 - 1e-12).all()
    assert after(flow).unit_l_s.tolist() == [0.0]


def test_rough_noise_is_not_that_of_a_slope_or_step() -> None:
    flow = drawn(4, 0.0, 100, 200)
    flow[50:] += 20
    assert np.median(rough(flow)) == pytest.approx(1.0, abs=0.15)
