from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.agreement import borne_out, disagreeing, rate_days, rate_volume_m3
from district.intake.spans import HOUR_US

HOURS = np.arange(24 * 20 + 1.0)
RATE = 5 + np.sin(HOURS / 4)


def said(register_m3: np.ndarray, rate: np.ndarray = RATE, zone: str = "UTC") -> list[str]:
    by_rate, variance = rate_volume_m3(HOURS, rate)
    days = rate_days(
        "M",
        (HOURS[:-1] * HOUR_US).astype(np.int64),
        register_m3,
        by_rate,
        variance,
        np.full(len(by_rate), 0.005),
        timezone=zone,
    )
    found = disagreeing(days, resolution_m3=0.1, error_share=0.02)
    return [f.got for f in found]


def test_a_rate_over_an_interval_is_the_mean_of_its_ends() -> None:
    volume, variance = rate_volume_m3(np.array([0.0, 0.5, 1.5]), np.array([2.0, 4.0, 4.0]))
    assert volume.tolist() == [1.5, 4.0]
    assert variance.tolist() == [0.5, 0.0]


def test_a_register_and_its_rate_agree() -> None:
    truth, _ = rate_volume_m3(HOURS, RATE)
    assert said(truth) == []
    assert said(np.round(np.cumsum(truth), 1).round(1) * 0 + truth * 1.015) == []


def test_the_wrong_unit_shows_all_along() -> None:
    truth, _ = rate_volume_m3(HOURS, RATE)
    assert said(truth, RATE * 3.6) == [
        "a rate that makes 430 m³ a day where the register makes 120 m³, all along"
    ]


@pytest.mark.parametrize(
    ("zone", "since"), [("UTC", "1970-01-11"), ("Pacific/Auckland", "1970-01-11")]
)
def test_a_register_that_slips_shows_since_when(zone: str, since: str) -> None:
    truth, _ = rate_volume_m3(HOURS, RATE)
    truth[240:] *= 0.8
    (got,) = said(truth, zone=zone)
    assert got.endswith(f", since {since}")


def test_some_days_that_pass_are_counted() -> None:
    truth, _ = rate_volume_m3(HOURS, RATE)
    truth[48:120] *= 0.5
    (got,) = said(truth)
    assert got.endswith(", on 3 days from 1970-01-03 to 1970-01-05")


def test_what_is_not_known_is_not_compared() -> None:
    assert said(np.full(480, math.nan)) == []


def test_a_jump_is_borne_out_within_a_factor_of_two() -> None:
    volume, by_rate = np.array([10.0, 10.0, 10.0, 10.0]), np.array([9.0, 30.0, 4.0, math.nan])
    assert borne_out(volume, by_rate).tolist() == [True, False, False, False]
