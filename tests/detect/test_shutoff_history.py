"""Runs of flow in histories typed by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.shutoff_history import HOUR_US, history_of, outside, runs_above, within
from tests.detect.shutoff_made import FIRST_US, history, intervals


def hours(of: object, flow_l_s: float) -> list[float]:
    everything = np.ones(len(of.start_us), dtype=bool)  # type: ignore[attr-defined]
    return (runs_above(of, flow_l_s, among=everything).length_us / HOUR_US).tolist()  # type: ignore


def test_runs_are_consecutive_intervals_above_the_flow() -> None:
    made = history([0, 0.3, 0.3, 0.1, 0.3, 0, 0.2, 0.2, 0.2])
    assert hours(made, 0.25) == [2, 1]
    assert hours(made, 0.15) == [2, 1, 3]
    assert hours(made, 0.05) == [4, 3]
    # 'More than' is meant as it is said.
    assert hours(made, 0.3) == []


def test_flow_is_volume_over_the_length_of_its_interval() -> None:
    made = history([0.5, 0.25], step_h=0.25)
    assert made.flow_l_s == pytest.approx([0.5, 0.25])
    assert made.step_h() == 0.25


def test_what_is_not_sound_or_too_long_breaks_a_run() -> None:
    rows = intervals([0.2] * 6)
    rows.loc[2, ["quality", "volume_m3"]] = ["spike", np.nan]
    assert hours(history_of(rows), 0.1) == [2, 3]
    bridged = intervals([0.2] * 6)
    bridged.loc[3, "end_utc"] += pd.Timedelta(hours=1)
    assert hours(history_of(bridged.drop(index=4)), 0.1) == [3, 1]
    assert hours(history_of(intervals([0.2] * 6).drop(index=2)), 0.1) == [2, 3]


def test_the_order_of_rows_does_not_matter_and_backflow_is_no_flow() -> None:
    rows = intervals([0.2, -0.4, 0.2])
    made = history_of(rows.iloc[::-1])
    assert made.flow_l_s.tolist() == pytest.approx([0.2, 0.0, 0.2])
    assert hours(made, 0.1) == [1, 1]


def test_spans_leave_out_what_touches_them_and_hold_what_lies_in_them() -> None:
    made = history([0.1] * 6)
    span = (FIRST_US + int(1.5 * HOUR_US), FIRST_US + 4 * HOUR_US)
    assert outside(made, [span]).tolist() == [True, False, False, False, True, True]
    assert within(made, span).tolist() == [False, False, True, True, False, False]
    assert outside(made, []).all()


def test_a_meter_without_a_sound_hour_has_an_empty_history() -> None:
    made = history_of(intervals([0.1, 0.2], step_h=24.0))
    assert len(made.start_us) == 0
    assert hours(made, 0.0) == []
