"""Tests of `district.hydraulics.flow_table`."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from district.hydraulics.flow_table import filled_by_hour, hours_of, laid_out

ROWS = pd.DataFrame(
    {
        "device_id": ["b", "a", "a", "c"],
        "day": [date(2025, 3, 2), date(2025, 3, 1), date(2025, 3, 2), date(2025, 3, 9)],
        "hour": [5, 23, 5, 1],
        "flow_l_s": [4.0, 1.0, 2.0, 9.0],
    }
)


def test_hours_are_those_of_the_devices_asked_for_in_order() -> None:
    hours = hours_of(ROWS, devices=pd.Index(["a", "b"]))
    assert hours.to_numpy().tolist() == [[date(2025, 3, 1), 23], [date(2025, 3, 2), 5]]
    only = hours_of(ROWS, devices=pd.Index(["a"]), days=[date(2025, 3, 2)])
    assert only["hour"].tolist() == [5]


def test_readings_are_laid_out_whatever_the_kind_of_date() -> None:
    hours = hours_of(ROWS, devices=pd.Index(["a", "b"]))
    stamped = ROWS.assign(day=pd.to_datetime(ROWS["day"]))
    table = laid_out(stamped, value="flow_l_s", devices=pd.Index(["b", "a"]), hours=hours)
    np.testing.assert_array_equal(table, [[np.nan, 1.0], [4.0, 2.0]])


def test_a_missing_hour_is_the_usual_one_of_that_hour() -> None:
    values = np.array([[1.0, np.nan], [10.0, np.nan], [np.nan, np.nan], [np.nan, np.nan]])
    filled = filled_by_hour(values, np.array([0, 1, 0, 2]))
    np.testing.assert_array_equal(filled[:, 0], [1.0, 10.0, 1.0, 5.5])
    assert np.isnan(filled[:, 1]).all()
