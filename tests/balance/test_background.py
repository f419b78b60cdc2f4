"""Background by components, and what lies above it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.background import (
    above_background,
    background_limits,
    service_bursts_count,
)
from district.estimates import Estimate, estimate
from district.settings import Background

CELLS = pd.Index(["North", "South"], dtype=object)


def of(*three: float) -> Estimate:
    return estimate(*([x] for x in three))


def test_limits_hold_the_condition_and_the_pressure(make_network: Any) -> None:
    sure = Estimate(*(np.array([50.0, 50.0]) for _ in range(3)))
    found = background_limits(make_network(), cells=CELLS, pressure=sure, background=Background())
    # North: 20 x 4 km + 1.25 x 4 + 33 x 0.2 km = 91.6 L/h at 50 m, times 1.5 (1 to 3).
    for part, factor in zip(found, (1.5, 1.0, 3.0), strict=True):
        assert part[0] * 3600 == pytest.approx(91.6 * factor)
    unsure = Estimate(np.array([50.0, 50.0]), np.array([40.0] * 2), np.array([60.0] * 2))
    wider = background_limits(make_network(), cells=CELLS, pressure=unsure, background=Background())
    assert (wider.low < found.low).all()
    assert (wider.high > found.high).all()


def test_excess_is_never_less_than_nothing() -> None:
    leakage, background = of(0.5, 0.3, 0.7), of(0.2, 0.1, 0.4)
    found = above_background(leakage, background)
    assert found.value == pytest.approx(0.3)
    assert found.low == pytest.approx(0.3 - np.hypot(0.2, 0.2))
    assert found.high == pytest.approx(0.3 + np.hypot(0.2, 0.1))
    none = above_background(of(0.1, 0.0, 0.2), background)
    assert [float(x[0]) for x in none] == pytest.approx([0.0, 0.0, -0.1 + np.hypot(0.1, 0.1)])
    # Beyond its limits: still nothing to find; an unknown stays unknown.
    assert [float(x[0]) for x in above_background(of(-1.0, -1.1, -0.9), background)] == [0, 0, 0]
    assert np.isnan(above_background(of(np.nan, np.nan, np.nan), background).value[0])


def test_bursts_are_the_excess_in_service_pipes() -> None:
    # 1.6 m3/h at 50 m is 0.8 m3/h at 25 m: 0.4444 L/s there are two.
    found = service_bursts_count(of(0.4444, 0.2222, 0.6667), of(25.0, 23.0, 27.0))
    assert found.value == pytest.approx(2.0, rel=1e-3)
    assert found.low[0] < 1.0 < 3.0 < found.high[0]
    assert [float(x[0]) for x in service_bursts_count(of(0, 0, 0.1), of(50, 48, 52))][:2] == [0, 0]
    assert np.isnan(service_bursts_count(of(0.4, 0.2, 0.6), of(0.0, 0.0, 0.0)).value[0])
