"""Tests of `district.hydraulics.water`."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.water import Demands


def test_all_that_leaves_a_cell_is_its_inflow_and_what_its_meters_read() -> None:
    hours = pd.DataFrame({"day": pd.to_datetime(["2025-03-03"] * 2), "hour": [2, 3]})
    demands = Demands(
        hours,
        np.array(["A"], dtype=object),
        rest_l_s=np.array([[1.0], [np.nan]]),
        measured_l_s=np.array([[0.0, 0.5, 0.0], [0.0, 0.25, 0.0]]),
        use=csr_array(np.array([[0.5, 0.5, 0.0]])),
        leakage=csr_array(np.array([[0.0, 0.0, 1.0]])),
        leakage_l_s=np.array([0.2]),
        use_spread_share=np.array([0.4]),
    )
    assert demands.node_l_s().tolist() == [[0.4, 0.9, 0.2], [0.0, 0.25, 0.0]]
