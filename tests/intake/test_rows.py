from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.intake.devices import Device
from district.intake.parse import ReadingFile
from district.intake.rows import disordered, in_order, take, usable_rows
from district.settings import Readings

DEVICES = {name: Device(name, "register", "meter", 1.0) for name in ("M1", "M2")}
FILES = [
    ReadingFile(Path(n), n, Readings(files="*"), clock)
    for n, clock in (("a.csv", "Europe/London"), ("b.csv", "Australia/Lord_Howe"))
]


def raw(*rows: tuple[str, str, int, float, int, int]) -> pd.DataFrame:
    """Rows of device, UTC time, seconds a second round is later, value, row and file."""
    names = ["device_id", "time_utc", "later_s", "value", "row", "file"]
    frame = pd.DataFrame(rows, columns=names).assign(rate=np.nan)
    frame["time_utc"] = pd.to_datetime(frame["time_utc"], utc=True, format="ISO8601").dt.as_unit(
        "us"
    )
    return frame.astype({"later_s": np.int32, "row": np.int32})


def test_the_repeated_hour_is_told_apart_by_file_and_device() -> None:
    london, half = "2025-10-26 00:30", "2025-04-05 14:45"
    frame = raw(
        ("M1", london, 3600, 1.0, 2, 0),
        ("M2", london, 3600, 2.0, 3, 0),
        ("M1", london, 3600, 3.0, 4, 0),
        ("M1", half, 1800, 4.0, 2, 1),
        ("M1", half, 1800, 5.0, 3, 1),
    )
    times = usable_rows(frame, FILES, DEVICES).time_us
    later = (times - pd.DatetimeIndex(frame["time_utc"]).as_unit("us").asi8) // 1_000_000
    assert later.tolist() == [0, 0, 3600, 0, 1800]


def test_rows_of_others_and_without_value_are_left_out() -> None:
    frame = raw(
        ("M9", "2025-01-01", 0, 1.0, 2, 0),
        ("M2", "2025-01-01", 0, np.nan, 3, 0),
        ("M2", "2025-01-01 01:00", 0, 2.0, 4, 0),
    )
    as_read = frame.astype({"device_id": "category"})
    for given in (frame, as_read):
        rows = usable_rows(given, FILES, DEVICES)
        assert (rows.device.tolist(), rows.row.tolist()) == ([1], [4])


def test_order_is_of_device_and_time_and_the_later_file_holds() -> None:
    frame = raw(
        ("M2", "2025-01-01 01:00", 0, 1.0, 2, 0),
        ("M1", "2025-01-01 01:00", 0, 2.0, 3, 0),
        ("M1", "2025-01-01 00:00", 0, 3.0, 4, 0),
        ("M1", "2025-01-01 01:00", 0, 4.0, 2, 1),
        ("M2", "2025-01-01 01:00", 0, 1.0, 5, 0),
        ("M2", "2025-01-01 01:00", 0, 1.0, 3, 1),
    )
    rows, findings, disorder = in_order(
        usable_rows(frame, FILES, DEVICES), FILES, list(DEVICES.values())
    )
    assert rows.device.tolist() == [0, 0, 1]
    assert rows.value.tolist() == [3.0, 4.0, 1.0]
    assert [(f.severity, f.source, f.place, f.got) for f in findings] == [
        ("note", "a.csv", "row 5", "M2 at the same time again"),
        ("warning", "b.csv", "row 2", "M1 at the same time as 4 and 2"),
    ]
    assert disorder == [("a.csv", "M1", 1, 0)]


def test_time_that_runs_back_in_parts_is_told_once() -> None:
    parts = [("a.csv", "M1", 1, 3), ("a.csv", "M1", 2, 5), ("b.csv", "M1", 4, 0)]
    assert [(f.source, f.place, f.got) for f in disordered(parts, DEVICES)] == [
        ("a.csv", "meter M1", "times that run backwards in 3 places")
    ]


def test_rows_in_many_runs_are_put_in_order_as_by_four_keys() -> None:
    rng = np.random.default_rng(3)
    hours = rng.integers(0, 40, 300)
    frame = raw(
        *(
            (f"M{1 + h % 2}", f"2025-01-{1 + h // 24:02d} {h % 24:02d}:00", 0, float(n), n, n % 2)
            for n, h in enumerate(hours)
        )
    )
    rows = usable_rows(frame, FILES, DEVICES)
    ordered, _, _ = in_order(rows, FILES, list(DEVICES.values()))
    by_four = np.lexsort((rows.row, rows.file, rows.time_us, rows.device))
    last = np.append(np.diff(rows.time_us[by_four] + rows.device[by_four]) != 0, True)
    assert ordered.value.tolist() == rows.value[by_four][last].tolist()


def test_taking_rows_takes_all_of_them() -> None:
    rows = usable_rows(
        raw(*[("M1", f"2025-01-0{d}", 0, d, d, 0) for d in (1, 2, 3)]), FILES, DEVICES
    )
    some = take(rows, np.array([True, False, True]))
    assert (some.row.tolist(), some.value.tolist()) == ([1, 3], [1.0, 3.0])
    assert rows.row.tolist() == [1, 2, 3]


@pytest.mark.parametrize(
    ("settings", "late_s"),
    [({}, 0), ({"clock_set": "2025-07-01 01:00"}, 0), ({"clock_set": "2025-06-30 01:00"}, 10)],
)
def test_a_clock_that_gains_is_put_right(settings: dict[str, str], late_s: int) -> None:
    frame = raw(
        ("M1", "2025-07-01 01:00:00", 0, 1.0, 2, 0),
        ("M1", "2025-07-11 01:01:40", 0, 2.0, 3, 0),
    )
    kind = Readings.model_validate({"files": "*", "clock_gain_s_d": 10.0, **settings})
    found = usable_rows(frame, [ReadingFile(Path("a"), "a", kind, "UTC")], DEVICES).time_us
    # Ten days of 10 s, less the little that the clock gained on the 100 s themselves.
    assert (found[1] - found[0]) / 1e6 == pytest.approx(864_000, abs=0.05)
    assert found[0] == pytest.approx(1_751_331_600_000_000 - late_s * 1_000_000, abs=5000)
