"""The order to act in, typed by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.detect.ranking import rank_events


def events(*rows: dict[str, Any]) -> pd.DataFrame:
    usual = {
        "kind": "leak",
        "kind_share": 0.9,
        "size_l_s": 0.5,
        "support": "flow",
        "start": pd.Timestamp("2031-03-01"),
        "act": True,
    }
    return pd.DataFrame([usual | row | {"event_id": f"E{i}"} for i, row in enumerate(rows)])


def ranks(*rows: dict[str, Any]) -> list[float]:
    return list(rank_events(events(*rows)))


def test_alarm_and_flow_come_before_flow_and_flow_before_a_lone_alarm() -> None:
    alone = {"support": "alarm", "kind": "wet_floor", "kind_share": np.nan, "size_l_s": np.nan}
    assert ranks(alone, {"size_l_s": 9.0}, {"support": "both", "size_l_s": 0.1}) == [3, 2, 1]


def test_the_larger_and_surer_loss_comes_first() -> None:
    assert ranks({"size_l_s": 0.4}, {"size_l_s": 0.8}) == [2, 1]
    assert ranks({"size_l_s": 0.6, "kind_share": 0.5}, {"kind_share": 0.9}) == [2, 1]


def test_water_moved_on_paper_and_a_leak_that_is_only_not_ruled_out_count_for_less() -> None:
    moved = {"kind": "boundary", "size_l_s": 1.0, "kind_share": 1.0}
    use = {"kind": "use", "size_l_s": 1.0, "kind_share": 0.85}
    assert ranks(moved, use, {"size_l_s": 0.3}) == [2, 3, 1]


def test_of_equals_the_newer_comes_first_and_nothing_else_is_ranked() -> None:
    older = {"start": pd.Timestamp("2031-01-01")}
    told = ranks(older, {}, {"act": False})
    assert told[:2] == [2, 1]
    assert np.isnan(told[2])


def test_the_order_of_rows_changes_nothing() -> None:
    frame = events({"size_l_s": 0.2}, {"size_l_s": 0.7}, {"support": "both"}, {"act": False})
    mixed = frame.sample(frac=1, random_state=3)
    pd.testing.assert_series_equal(rank_events(mixed).sort_index(), rank_events(frame))
