from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.meters_of import building_meters, steps_of
from tests.detect.conftest import make_network
from tests.detect.still_series import network_of, quality_of


def test_meters_of_users_with_building_zone_and_error() -> None:
    found = building_meters(make_network()).set_index("device_id")
    assert found.index.to_list() == ["B1", "B2"]
    assert found["building_id"].to_list() == ["Hall", ""]
    assert found["cell_id"].to_list() == ["V2", "V2"]
    assert found["error_share"].to_list() == [0.02, 0.02]
    assert found["q1_l_s"].isna().all()


def test_q1_is_q3_over_r() -> None:
    # Seen (bmeters.com on EN 14154): Q3 2.5 m³/h at R 100 gives Q1 25 L/h.
    found = building_meters(network_of({"A": ""}, q3_m3_h=2.5, ratio_r=100.0))
    assert found["q1_l_s"].to_numpy() * 3600 == pytest.approx([25.0])


def test_a_register_steps_in_litres_and_a_rate_in_litres_a_second() -> None:
    quality = pd.concat(
        [
            quality_of("A", step_l=10),
            quality_of("B", step_l=3.6, kind="electromagnetic", step_h=0.25),
        ]
    )
    found = steps_of(pd.Index(["A", "B", "C"]), quality)
    assert found.loc["A", ["step_l", "rate_step_l_s"]].to_list() == [10, 0]
    assert found.loc["B", ["step_l", "rate_step_l_s"]].to_list() == pytest.approx([0, 0.004])
    assert np.isnan(found.loc["C", "step_l"])
