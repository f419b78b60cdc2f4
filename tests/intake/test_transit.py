from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.transit import (
    difference_and_sum,
    flow_m3_h,
    path_velocity_m_s,
    profile_factor,
    sound_speed_m_s,
    time_step_s,
    travel_times_s,
)

# Regression value, by hand from v = L/(2 cos α)·(tu − td)/(tu td) and c = L/2·(tu + td)/(tu td):
# L 0.2 m, 45°, c 1480 m/s, v 1.0 m/s give td 135.0706 µs, tu 135.1997 µs, Δ 129.128 ns.
DOWN_S = 135.0706e-6
UP_S = DOWN_S + 129.128e-9


def pair(up: float = UP_S, down: float = DOWN_S) -> tuple[np.ndarray, np.ndarray]:
    return difference_and_sum(np.array([up]), np.array([down]))


def test_velocity_and_speed_of_sound_of_the_worked_number() -> None:
    difference, total = pair()
    velocity = path_velocity_m_s(difference, path_m=0.2, angle_deg=45.0)
    assert velocity[0] == pytest.approx(1.0, abs=1e-5)
    assert sound_speed_m_s(total, path_m=0.2)[0] == pytest.approx(1480.0, abs=0.5)


def test_the_times_are_found_again() -> None:
    up, down = travel_times_s(*pair())
    assert (up[0], down[0]) == pytest.approx((UP_S, DOWN_S), rel=1e-12)


def test_water_that_runs_back_is_negative() -> None:
    difference, _ = pair(DOWN_S, UP_S)
    assert path_velocity_m_s(difference, path_m=0.2, angle_deg=45.0)[0] < 0


@pytest.mark.parametrize("times", [(0.0, DOWN_S), (UP_S, -1.0), (math.nan, DOWN_S)])
def test_a_time_that_cannot_be_gives_nothing(times: tuple[float, float]) -> None:
    assert np.isnan(pair(*times)).all()


@pytest.mark.parametrize(
    ("reynolds", "factor"),
    # Laminar 0.75; 1/(1.119 − 0.011·5) = 0.9398 and 1/(1.119 − 0.011·6) = 0.9497 (hand
    # calculation; formula from memory).
    [(1000.0, 0.75), (1e5, 0.9398), (1e6, 0.9497)],
)
def test_the_profile_factor_by_reynolds_number(reynolds: float, factor: float) -> None:
    velocity = np.array([reynolds * 1.3e-6 / 0.1, -reynolds * 1.3e-6 / 0.1])
    assert profile_factor(velocity, bore_m=0.1) == pytest.approx([factor] * 2, abs=1e-4)


def test_the_power_law_profile_agrees() -> None:
    """Mean over path velocity of the profile (1 - r)^(1/n) is 2n/(2n + 1): an integral."""
    # n = 7 near Re 1e5, Nikuradse's pipes (from memory): 14/15.
    velocity = np.array([1e5 * 1.3e-6 / 0.1])
    assert profile_factor(velocity, bore_m=0.1)[0] == pytest.approx(14 / 15, abs=0.02)


def test_flow_with_a_stated_factor() -> None:
    difference, _ = pair()
    flow = flow_m3_h(difference, path_m=0.2, angle_deg=45.0, bore_m=0.1, factor_share=0.94)
    assert flow[0] == pytest.approx(0.94 * math.pi / 4 * 0.01 * 3600, rel=1e-4)
    free = flow_m3_h(difference, path_m=0.2, angle_deg=45.0, bore_m=0.1, factor_share=math.nan)
    assert free[0] == pytest.approx(flow[0], rel=0.01)


def test_the_step_the_times_are_written_in() -> None:
    up = np.array([135.1997, 135.1999, 135.2004]) * 1e-6
    assert time_step_s(up, up - 130e-9) == pytest.approx(1e-10)
    assert math.isnan(time_step_s(up[:1], up[:1]))
