"""Tests of `district.schema.typed`."""

from __future__ import annotations

import pandas as pd

from district.schema.columns import Column, Table
from district.schema.typed import typed

TABLE = Table(
    "things",
    "things of every kind",
    (
        Column("thing_id", "text", "its id", required=True),
        Column("flow_l_s", "real", "its flow"),
        Column("things_count", "whole", "how many"),
        Column("day", "date", "its day"),
        Column("time_utc", "time", "its time"),
        Column("act", "flag", "whether to act"),
    ),
)


def test_rows_take_the_order_and_kinds_of_their_table() -> None:
    rows = pd.DataFrame(
        [
            {"day": pd.Timestamp("2025-03-01"), "thing_id": "A", "act": True, "other": 1},
            {"day": pd.NaT, "thing_id": None, "act": None, "other": 2},
        ],
        index=[7, 3],
    )
    before = rows.copy()
    frame = typed(rows, TABLE)
    assert list(frame.columns) == list(TABLE.names())
    assert list(frame.index) == [7, 3]
    assert frame["thing_id"].tolist() == ["A", ""]
    assert frame["act"].tolist() == [True, False]
    assert frame["act"].dtype == bool
    assert str(frame["day"].dtype) == "datetime64[us]"
    assert str(frame["time_utc"].dtype) == "datetime64[us, UTC]"
    assert frame["flow_l_s"].isna().all()
    assert frame["things_count"].dtype == float
    pd.testing.assert_frame_equal(rows, before)


def test_no_rows_have_the_kinds_too() -> None:
    frame = typed(pd.DataFrame(), TABLE)
    assert frame.empty
    assert str(frame["day"].dtype) == "datetime64[us]"
