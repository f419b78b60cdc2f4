"""Losses apportioned to mains and service pipes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.apportion import mains_share, split_losses
from district.estimates import Estimate, estimate
from district.settings import Background

PLAIN = Background(condition_factor=1.0, condition_factor_low=1.0)


def share_of(losses: Any, km: Any = 10.0, count: Any = 1000.0, metres: Any = 50.0) -> Estimate:
    return mains_share(
        losses,
        mains_km=km,
        connections_count=count,
        private_km=0.0,
        pressure_m=metres,
        background=PLAIN,
    )


def test_background_alone_is_split_by_its_components() -> None:
    # 200 L/h on 10 km of mains, 1250 L/h on 1000 connections.
    found = share_of(1.45 * 24)
    assert float(found.value) == pytest.approx(200 / 1450)


def test_what_is_above_it_is_split_as_bursts_are() -> None:
    # 84 against 200 L/d for each metre of pressure.
    found = share_of(1.45 * 24 + 100.0)
    by_hand = (0.2 * 24 + 100 * 84 / 284) / (1.45 * 24 + 100)
    assert float(found.value) == pytest.approx(by_hand)
    assert float(share_of(1e9).value) == pytest.approx(84 / 284, rel=1e-4)


def test_limits_hold_both_splits_with_their_odds_halved_and_doubled() -> None:
    found = share_of(60.0)
    assert float(found.low) == pytest.approx((200 / 1250 / 2) / (1 + 200 / 1250 / 2))
    assert float(found.high) == pytest.approx((84 / 200 * 2) / (1 + 84 / 200 * 2))
    assert found.low < found.value < found.high


def test_losses_below_zero_and_places_without_pipes_or_pressure() -> None:
    assert float(share_of(-5.0).value) == pytest.approx(200 / 1450)
    assert np.isnan(share_of(5.0, km=0.0, count=0.0).value)
    assert [float(x) for x in share_of(5.0, count=0.0)] == [1.0, 1.0, 1.0]
    assert float(share_of(5.0, metres=0.0).value) == pytest.approx(84 / 284)


def test_the_parts_add_up_to_the_piped_losses() -> None:
    real, tanks = estimate(100.0, 90.0, 110.0), estimate(10.0)
    mains, services = split_losses(real, tanks, estimate(0.4, 0.2, 0.7))
    assert float(mains.value + services.value) == pytest.approx(90.0)
    assert float(mains.high - mains.value) == pytest.approx(np.hypot(0.4 * 10, 0.3 * 90))
    assert float(services.value - services.low) == pytest.approx(np.hypot(0.6 * 10, 0.3 * 90))
