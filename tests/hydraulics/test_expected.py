"""Tests of `district.hydraulics.expected`."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.hydraulics.expected import background_at_50_m_l_s, expected_use_l_s, pressure_power
from district.settings import Background, Settings


def test_background_of_a_worked_example() -> None:
    """10 km, 1,000 connections, 45 m, components 20 and 1.75, factor 1: 1.6649 m3/h (derived in
    ../shared/reference/catalogue.md)."""
    rule = Background(
        connection_l_connection_h=1.75, condition_factor=1.0, condition_factor_low=1.0
    )
    settings = Settings(background=rule)
    at_50 = background_at_50_m_l_s(
        10.0,
        connections_count=1000,
        private_km=0.0,
        background=settings.background,
        condition_factor=settings.background.condition_factor,
    )
    hourly = at_50 * pressure_power(45.0, settings=settings) * 3.6
    assert hourly == pytest.approx(1.6649, abs=5e-5)


def test_use_is_the_allowance_of_the_class_or_as_billed() -> None:
    taps = pd.DataFrame(
        {
            "properties": [2.0, np.nan, 1.0, 3.0],
            "use_class": ["household", "commercial", "odd", "household"],
            "meter_id": ["A", "", "B", "B"],
        }
    )
    use = expected_use_l_s(taps, settings=Settings())
    np.testing.assert_allclose(use * 86_400, [700.0, 1200.0, 350.0, 1050.0])
    billed = pd.Series({"B": 0.4, "A": np.nan})
    use = expected_use_l_s(taps, settings=Settings(), billed_l_s=billed)
    np.testing.assert_allclose(use, [700 / 86_400, 1200 / 86_400, 0.1, 0.3])
