"""Use of interval-metered users: their sum, its spread, and nights on which one is missing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import metering
from district.balance.measured_use import measured_use


@pytest.fixture
def summed(make_network: Any, make_reduced: Any, night_table: Any, nights: Any) -> Any:
    def of(flows: dict[str, Any], **tables: Any) -> Any:
        network = make_network()
        reduced = make_reduced(night_flows=night_table(nights, flows), **tables)
        window_h = np.full((len(nights), 1), 2.0)
        return measured_use(network, metering(network), reduced, nights=nights, window_h=window_h)

    return of


def test_users_add_up_by_cell_with_their_meters_errors(summed: Any) -> None:
    """North, then South; errors of 4 % and, where not stated, 2 %."""
    (flow, systematic, random), meters, said = summed({"B1": 0.2, "C1": 0.1, "C2": 0.05})
    assert list(meters) == ["B1", "C1", "C2"]
    assert flow[0] == pytest.approx([0.3, 0.05])
    assert 1.96 * systematic[0] == pytest.approx([np.hypot(0.008, 0.002), 0.001])
    assert (random == 0).all()
    assert said == ["Night use measured by interval meters of users: 3."]


def test_the_step_of_a_meter_is_random(summed: Any) -> None:
    """Cut to 10 L at both ends of two hours: 10 / 7200 over the root of six."""
    quality = pd.DataFrame(
        {"device_id": ["B1"], "kind": "register", "step_h": 0.25, "resolution_m3": 0.01}
    )
    (_, _, random), _, _ = summed({"B1": 0.2}, quality=quality)
    assert random[0] == pytest.approx([10 / 7200 / np.sqrt(6), 0.0])


def test_a_missing_night_takes_the_nearby_median_with_its_spread(summed: Any) -> None:
    use = 0.2 + 0.02 * (np.arange(20) % 3)  # 0.20, 0.22, 0.24, ...
    use[10] = np.nan
    (flow, systematic, random), _, said = summed({"B1": use})
    assert flow[10, 0] == pytest.approx(0.22)
    assert random[10, 0] == pytest.approx(np.std(np.delete(use[3:18], 7), ddof=1))
    assert systematic[10, 0] == pytest.approx(0.04 * 0.22 / 1.96)
    assert random[9, 0] == 0.0
    assert said[1].startswith("Missing nights of user meters (B1): 1;")


def test_a_meter_of_one_single_night_is_as_unsure_as_it_is_large(summed: Any) -> None:
    use = np.full(20, np.nan)
    use[4] = 0.3
    (flow, _, random), _, _ = summed({"B1": use})
    assert flow[:, 0] == pytest.approx(0.3)
    assert random[[3, 4], 0] == pytest.approx([0.3, 0.0])


def test_nobody_metered_draws_nothing_measured(summed: Any) -> None:
    (flow, _, _), meters, said = summed({"M1": 1.0})
    assert (flow == 0).all()
    assert list(meters) == []
    assert said == []
