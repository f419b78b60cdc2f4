"""How an event stands, from runs and works typed by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.recorded import Work
from district.detect.runs import Run
from district.detect.states import OnRecord, on_record, stands

AXIS = pd.date_range("2031-01-01", periods=200, freq="D")


def run(**changes: Any) -> Run:
    made = {"position": 100, "low": 100, "high": 100, "detected": 101, "base_l_s": 0.5}
    return Run(**{**made, "flow_l_s": np.zeros(200), "error_l_s": 0.01, **changes})


def work(kind: str, first: int, last: int | None = None) -> Work:
    end = AXIS[first if last is None else last]
    return Work(kind, AXIS[first], end, "V1", frozenset({"V1"}))


@pytest.mark.parametrize(
    ("kind", "what", "works", "state", "told"),
    [
        ("leak", run(), [], "open", ""),
        ("leak", run(last=150), [], "ended", ""),
        ("leak", run(last=150), [work("repair", 151)], "repaired", "a repair at V1 on 2031-06-01"),
        # Four nights later it is another matter.
        ("leak", run(last=150), [work("repair", 155)], "ended", ""),
        ("use", run(last=102), [work("flushing", 100, 102)], "explained", "flushing at V1"),
        ("use", run(), [work("flushing", 100, 102)], "open", ""),
        ("meter_fault", run(), [work("meter_change", 100)], "explained", "a meter change at V1"),
        # The evidence says a leak all the same: a changed meter does not hide it.
        ("leak", run(), [work("meter_change", 100)], "open", ""),
        ("boundary", run(), [work("valve_operation", 99)], "explained", "a valve operation at V1"),
        ("leak", run(), [work("valve_operation", 99)], "open", ""),
    ],
)
def test_states(kind: str, what: Run, works: list[Work], state: str, told: str) -> None:
    last = 199 if what.last is None else what.last
    record = on_record("V1", what, AXIS, tuple(works), last=last)
    found, by = stands(what, kind, record)
    assert found == state
    assert by.startswith(told)
    assert bool(by) == bool(told)


def test_the_repair_that_ended_a_flow_is_not_said_to_be_near_its_start() -> None:
    brief = run(position=100, low=99, high=101, last=102)
    mended = work("repair", 103)
    record = on_record("V1", brief, AXIS, (mended,), last=102)
    assert record == OnRecord(explained=None, nearby=None, mended=mended)


def test_works_elsewhere_do_not_count() -> None:
    record = on_record("V2", run(), AXIS, (work("meter_change", 100),), last=199)
    assert record == OnRecord(None, None, None)
