from __future__ import annotations

from collections import Counter
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.errors import Finding
from district.intake.layouts import read_long, read_wide, unknown
from district.settings import Readings

UTC = ZoneInfo("UTC")
POSITION = {"M1": 0, "M2": 1, "W1": 2}
WET = np.array([False, False, True])


def read(layout: str, content: dict[str, Any], **settings: Any) -> tuple[Any, list[Finding]]:
    frame = pd.DataFrame(content)
    frame.index = pd.RangeIndex(2, len(frame) + 2)
    before = frame.copy()
    findings: list[Finding] = []
    kind = Readings(files="a.csv", layout=layout, **settings)  # type: ignore[arg-type]
    way = read_wide if layout == "wide" else read_long
    strangers: Counter[str] = Counter()
    rows = way(frame, kind, UTC, "a.csv", POSITION, WET, findings, strangers)
    findings += [unknown(i, n, "a.csv") for i, n in strangers.items()]
    pd.testing.assert_frame_equal(frame, before)
    return rows, findings


def test_long_and_wide_give_the_same_rows() -> None:
    times = ["2025-01-01 00:00", "2025-01-01 01:00"]
    wide, told = read("wide", {"time": times, "M1": ["1", "2"], "M2": ["3", ""]})
    assert told == []
    long, told = read(
        "long",
        {
            "device_id": ["M1", "M1", "M2", "M2"],
            "time": times * 2,
            "value": ["1", "2", "3", None],
        },
    )
    assert told == []
    for name in ("device", "time_us", "later_us", "value"):
        np.testing.assert_array_equal(getattr(wide, name), getattr(long, name))


def test_the_users_headings() -> None:
    rows, told = read(
        "wide",
        {"Zeit": ["2025-01-01"], "Keller": ["1"]},
        columns={"time": "Zeit", "M2": "Keller"},
    )
    assert told == []
    assert rows.device.tolist() == [1]
    rows, told = read(
        "long",
        {"Device_ID": ["M1"], "Zeit": ["2025-01-01"], "VALUE": ["1"]},
        columns={"time": "Zeit"},
    )
    assert told == []
    assert len(rows.device) == 1


def test_numbers_as_ids() -> None:
    frame = {"device_id": [7.0], "time": ["2025-01-01"], "value": [1.0]}
    _, (finding,) = read("long", frame)
    assert finding.place == "device 7"


def test_words_of_a_wet_floor_sensor_only() -> None:
    times = ["2025-01-01", "2025-01-02"]
    rows, told = read("wide", {"time": times, "W1": ["wet", "false"], "M1": ["wet", "1"]})
    assert sorted(rows.value.tolist()) == [0, 1, 1]
    assert [(f.place, f.column, f.got) for f in told] == [("row 2", "M1", '"wet"')]


def test_rows_without_device() -> None:
    frame = {"device_id": ["M1", None], "time": ["2025-01-01"] * 2, "value": ["1", "2"]}
    rows, (finding,) = read("long", frame)
    assert len(rows.device) == 1
    assert finding.sentence() == (
        "a.csv, row 3, column device_id: got nothing, expected a meter_id or sensor_id. Fill it in."
    )


def test_no_time_can_be_read() -> None:
    rows, (told,) = read("long", {"device_id": ["M1"], "time": ["soon"], "value": ["1"]})
    assert (told.severity, told.got) == ("warning", '"soon"')
    assert not rows.timed


def test_a_rate_beside_a_total_and_travel_times() -> None:
    base = {"device_id": ["M1"], "time": ["2025-01-01"]}
    rows, told = read("long", base | {"value": ["5"], "Flow": ["0.4"]}, columns={"rate": "Flow"})
    assert told == []
    assert (rows.value.tolist(), rows.rate.tolist()) == ([5.0], [0.4])
    rows, told = read("long", base | {"up_us": ["135.1997"], "down_us": ["135.0706"]})
    assert told == []
    # (tu - td)/(tu td) is 7.07 1/s, (tu + td)/(tu td) 14801 1/s.
    assert rows.value[0] == pytest.approx(7.07, abs=0.01)
    assert rows.rate[0] == pytest.approx(14801, abs=1)
    rows, told = read("long", base | {"up_us": ["135.1997"]})
    assert rows is None
    assert [f.column for f in told] == ["down_us"]
