from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.gross import gross_of, night_grids


def test_gross_is_at_least_the_net() -> None:
    table = pd.DataFrame({"flow": [2.0, -2.0, 1.0, np.nan], "both": [3.0, np.nan, 0.5, 4.0]})
    found = gross_of(table, net="flow", gross="both").tolist()
    assert found[:3] == [3.0, 2.0, 1.0]
    assert np.isnan(found[3])
    assert gross_of(table[["flow"]], net="flow", gross="both").tolist()[:3] == [2.0, 2.0, 1.0]


def test_grids_of_nights_and_meters(nights: Any, night_table: Any) -> None:
    rows = night_table(nights, {"M1": 1.0, "M2": -0.4})
    rows["gross_l_s"] = np.where(rows["device_id"] == "M2", 5.0, np.nan)
    ids = pd.Index(["M2", "M1", "M9"], dtype=object)
    net, gross = night_grids(rows, rows=nights[:2].as_unit("us"), columns=ids)
    np.testing.assert_array_equal(net, [[-0.4, 1.0, np.nan]] * 2)
    np.testing.assert_array_equal(gross, [[5.0, 1.0, np.nan]] * 2)
