"""What the gap is explained from."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.annual import BOTTOM_UP
from district.balance.district import district_balance
from district.balance.gap_scene import LEAST_M3, Scene, night_means, per
from district.balance.metering import metering
from district.balance.night import night_balance
from district.balance.volumes import daily_volumes
from district.estimates import estimate
from district.settings import Settings


def test_a_volume_in_units_of_one_and_nothing_in_units_of_nothing() -> None:
    found = per(np.array([2.0, 0.0, LEAST_M3 / 2]))(np.array([5.0, 5.0, 5.0]))
    np.testing.assert_array_equal(found, [2.5, np.nan, np.nan])


@pytest.mark.parametrize("gap_m3", [1.0, -1.0])
def test_the_nights_of_the_year_by_hand(
    make_network: Any, make_reduced: Any, no_works: Any, gap_m3: float
) -> None:
    network, reduced, settings = make_network(), make_reduced(), Settings()
    layout = metering(network)
    night = night_balance(network, reduced, settings=settings, works=no_works)
    volumes = daily_volumes(network, layout, reduced.daily_volumes, settings=settings)
    counted = np.isfinite(volumes.inflow_m3)
    scene = Scene(
        layout,
        volumes,
        night,
        reduced.night_flows,
        counted,
        counted.any(axis=0),
        {BOTTOM_UP: estimate(np.zeros(3))},
        np.full(3, gap_m3),
        settings,
    )
    per_flow, half, leak = night_means(scene)
    # No logger: 24 hours a day, 18 to 26; a litre a second is 3.6 m³ an hour.
    np.testing.assert_allclose(per_flow, 24.0 * 3.6 * 365)
    np.testing.assert_allclose(half, (2.0 if gap_m3 > 0 else 6.0) * 3.6 * 365)
    whole = district_balance(network, reduced, settings=settings, works=no_works)
    year = whole.annual.set_index(["component", "cell_id"])["volume_m3"][BOTTOM_UP]
    assert isinstance(year, pd.Series)
    np.testing.assert_allclose(leak * per_flow, year.loc[["North", "South"]])
