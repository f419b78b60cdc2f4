"""Indicators and their limits of use."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.indicators import (
    index_limits,
    index_note,
    leakage_index,
    share_limits,
    target_band,
)
from district.estimates import estimate


def test_index_of_no_pipes_is_unknown_not_infinite() -> None:
    found = leakage_index(np.array([1.0, 0.0, 6.0]), unavoidable_m3_d=np.array([0.0, 0.0, 2.0]))
    assert np.isnan(found[:2]).all()
    assert found[2] == 3.0


def test_index_limits_hold_losses_and_pressure() -> None:
    # 3 % of losses and 4 % of pressure: 5 % of the index.
    found = index_limits(estimate(100.0, 97.0, 103.0), estimate(10.0, 9.6, 10.4))
    assert tuple(map(float, found)) == pytest.approx((10.0, 9.5, 10.5))


@pytest.mark.parametrize(
    ("km", "connections", "pressure_m", "note"),
    [
        (100.0, 5000, 45.0, ""),
        (10.0, 500, 45.0, "too small: connections + 20 x km is 700, below 3000"),
        (150.0, 1500, 45.0, "too sparse: 10 connections per km, below 20"),
        (100.0, 5000, 12.0, "pressure of 12 m outside 25 to 100 m"),
        (
            10.0,
            50,
            120.0,
            "too small: connections + 20 x km is 250, below 3000; "
            "too sparse: 5 connections per km, below 20; pressure of 120 m outside 25 to 100 m",
        ),
        (0.0, 0, 45.0, "too small: connections + 20 x km is 0, below 3000"),
    ],
)
def test_note_says_every_reason(km: float, connections: int, pressure_m: float, note: str) -> None:
    assert index_note(km, connections_count=connections, pressure_m=pressure_m) == note


def test_no_band_outside_the_table_or_without_a_figure() -> None:
    assert target_band(100.0, pressure_m=55.0, country_group="developed") == ""
    assert target_band(100.0, pressure_m=15.0, country_group="developed") == ""
    assert target_band(100.0, pressure_m=15.0, country_group="developing") != ""
    assert target_band(float("nan"), pressure_m=40.0, country_group="developed") == ""
    assert target_band(-5.0, pressure_m=40.0, country_group="developed") == "A"


def test_non_revenue_share_of_nothing_is_nothing() -> None:
    zero = estimate(np.zeros(1))
    assert [float(x[0]) for x in share_limits(zero, zero)] == [0.0, 0.0, 0.0]


def test_non_revenue_share_limits_by_hand() -> None:
    # Billed 80 +- 3 %, input 100 +- 4 %: the quotient 0.8 is known to 5 %.
    found = share_limits(estimate(80.0, 77.6, 82.4), estimate(100.0, 96.0, 104.0))
    assert tuple(map(float, found)) == pytest.approx((0.2, 0.16, 0.24))
