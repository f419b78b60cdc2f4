from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.intake import read_readings
from district.results import Readings
from district.schema.stored import DEVICE_QUALITY, INTERVALS, SAMPLES
from district.settings import District, Settings
from district.settings import Readings as Kind

HOURS = 24 * 8
START = pd.Timestamp("2025-10-22 00:00", tz="UTC")
"""Eight days over the end of summer time in Europe, on 26 October."""


@pytest.fixture(scope="module")
def truth_m3() -> np.ndarray[Any, Any]:
    """Hourly volumes of one invented meter."""
    rng = np.random.default_rng(11)
    return np.round(5 + 2 * np.sin(np.arange(HOURS) / 4) + rng.normal(0, 0.3, HOURS), 3)


def meter(**columns: Any) -> dict[str, Any]:
    return {"meter_id": "M", "role": "inlet", "kind": "register", **columns}


def settings(layout: str = "long", timezone: str = "UTC", stamp: str = "end") -> Settings:
    kind = Kind(files="readings/*", layout=layout, stamp=stamp)  # type: ignore[arg-type]
    return Settings(district=District(timezone=timezone), readings=(kind,))


def local(instants: pd.DatetimeIndex, timezone: str) -> list[str]:
    return list(instants.tz_convert(ZoneInfo(timezone)).strftime("%Y-%m-%d %H:%M"))


def write(folder: Path, frame: pd.DataFrame, way: str) -> None:
    path = folder / "readings" / f"a.{way.partition(' ')[0]}"
    path.parent.mkdir(exist_ok=True)
    if way == "xlsx":
        frame.to_excel(path, index=False)
    elif way == "parquet":
        frame.to_parquet(path, index=False)
    elif way == "csv with decimal commas":
        frame.to_csv(path, index=False, sep=";", decimal=",", encoding="utf-16")
    else:
        frame.to_csv(path, index=False)


def reported(
    kind: str, unit_m3: float, truth: np.ndarray[Any, Any], stamp: str
) -> tuple[pd.DatetimeIndex, np.ndarray[Any, Any]]:
    """What a meter of that kind and unit would have written down."""
    ends = pd.date_range(START, periods=HOURS + 1, freq="h")
    if kind == "register":
        return ends, np.round((700 + np.concatenate([[0], np.cumsum(truth)])) / unit_m3, 2)
    stamps = ends[1:] if stamp == "end" else ends[:-1]
    if kind == "pulse":
        total = np.floor(np.concatenate([[0], np.cumsum(truth)]) / unit_m3 + 1e-9)
        return stamps, np.diff(total)
    return stamps, np.round(truth / unit_m3, 4)


@pytest.mark.parametrize("way", ["csv", "csv with decimal commas", "xlsx", "parquet"])
@pytest.mark.parametrize(
    ("described", "unit_m3", "resolution_m3"),
    [
        ({"kind": "register"}, 1.0, 0.01),
        ({"kind": "register", "reading_unit": "l"}, 0.001, 0.001),
        ({"kind": "register", "reading_unit": "ft3"}, 0.028316846592, 0.0003),
        ({"kind": "register", "register_digits": 3}, 1.0, 0.01),
        ({"kind": "pulse", "litres_per_pulse": 10}, 0.01, 0.01),
        ({"kind": "electromagnetic", "reading_unit": "l/s"}, 3.6, 0.0004),
        ({"kind": "transit_time", "reading_unit": "m3/d"}, 1 / 24, 0.0001),
    ],
    ids=lambda v: " ".join(str(x) for x in v.values()) if isinstance(v, dict) else "",
)
@pytest.mark.parametrize(
    ("layout", "timezone", "stamp"),
    [
        ("long", "Europe/London", "end"),
        ("wide", "America/New_York", "start"),
        ("wide", "Europe/London", "end"),
    ],
)
def test_one_truth_written_in_many_ways(
    tmp_path: Path,
    inputs_of: Callable[..., Any],
    truth_m3: np.ndarray[Any, Any],
    described: dict[str, Any],
    unit_m3: float,
    resolution_m3: float,
    layout: str,
    timezone: str,
    stamp: str,
    way: str,
) -> None:
    times, value = reported(described["kind"], unit_m3, truth_m3, stamp)
    if "register_digits" in described:
        value = value % 1_000
    frame = pd.DataFrame({"time": local(times, timezone), "M": value})
    if layout == "long":
        frame = frame.rename(columns={"M": "value"}).assign(device_id="M")
    write(tmp_path, frame, way)
    read = read_readings(
        tmp_path, settings(layout, timezone, stamp), inputs_of([meter(**described)])
    )
    assert read.findings == ()
    assert (read.intervals["quality"] == "ok").all()
    assert list(read.intervals["end_utc"]) == list(
        pd.date_range(START, periods=HOURS + 1, freq="h")[1:]
    )
    assert (read.intervals["end_utc"] - read.intervals["start_utc"]).eq(pd.Timedelta("1h")).all()
    np.testing.assert_allclose(read.intervals["volume_m3"], truth_m3, atol=1.01 * resolution_m3)


def long(folder: Path, rows: list[tuple[str, str, object]], name: str = "a.csv") -> None:
    (folder / "readings").mkdir(exist_ok=True)
    frame = pd.DataFrame(rows, columns=["device_id", "time", "value"])
    frame.to_csv(folder / "readings" / name, index=False)


def hours(count: int, values: list[object] | None = None) -> list[tuple[str, str, object]]:
    times = pd.date_range("2025-03-01", periods=count, freq="h").strftime("%Y-%m-%d %H:%M")
    return [("M", t, v) for t, v in zip(times, values or range(count), strict=True)]


def read(folder: Path, inputs: Any) -> Readings:
    return read_readings(folder, Settings(), inputs)


def test_the_tables_are_as_declared(tmp_path: Path, inputs_of: Callable[..., Any]) -> None:
    long(tmp_path, [*hours(30), *[("P", t, 3 + v % 2) for _, t, v in hours(30)]])  # type: ignore[operator]
    sensors = [{"sensor_id": "P", "kind": "pressure", "reading_unit": "bar"}]
    found = read(tmp_path, inputs_of([meter()], sensors))
    for frame, table in (
        (found.intervals, INTERVALS),
        (found.samples, SAMPLES),
        (found.quality, DEVICE_QUALITY),
    ):
        assert tuple(frame.columns) == table.names()
        for column in table.columns:
            if column.kind == "time":
                assert str(frame[column.name].dtype) == "datetime64[us, UTC]"
    assert found.quality["kind"].tolist() == ["register", "pressure"]
    assert found.quality["readings_count"].tolist() == [30, 30]
    # 3 bar = 300 kPa = 30.6 m of 9.80665 kPa.
    assert found.samples["value"].min() == pytest.approx(30.59, abs=0.01)


def test_the_order_of_rows_and_files_does_not_matter(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    rows = [*hours(48), *[("N", t, v) for _, t, v in hours(48)]]
    long(tmp_path, rows)
    inputs = inputs_of([meter(), meter(meter_id="N")])
    first = read(tmp_path, inputs)
    (tmp_path / "readings/a.csv").unlink()
    long(tmp_path, rows[:40:-1], "x.csv")
    long(tmp_path, rows[40::-1], "y.csv")
    second = read(tmp_path, inputs)
    assert second.findings == ()
    pd.testing.assert_frame_equal(first.intervals, second.intervals)
    figures = [c for c in first.quality.columns if c != "source"]
    pd.testing.assert_frame_equal(first.quality[figures], second.quality[figures])


def test_readings_out_of_order_and_double_are_told(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    rows = hours(30)
    rows[3], rows[4] = rows[4], rows[3]
    rows += [rows[10], (*rows[12][:2], 12.5)]
    long(tmp_path, rows)
    found = read(tmp_path, inputs_of([meter()]))
    assert [f.sentence() for f in found.findings] == [
        "readings/a.csv, row 33: got M at the same time as 12.5 and 12, expected one value at a "
        "time for each device. Remove the wrong one; the later one is used.",
        "readings/a.csv, meter M: got times that run backwards in 2 places, expected readings in "
        "order of time. Nothing need be done; they are put in order.",
        "readings/a.csv, row 32: got M at the same time again, expected each reading once. "
        "Nothing need be done; one is used.",
    ]
    volumes = [1.0] * 29
    volumes[11:13] = [1.5, 0.5]
    assert found.intervals["volume_m3"].tolist() == volumes


def test_a_later_file_corrects_an_earlier_one(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    rows = hours(30)
    long(tmp_path, rows, "export 9.csv")
    long(tmp_path, [(*rows[12][:2], 12.5)], "export 10.csv")
    found = read(tmp_path, inputs_of([meter()]))
    assert found.intervals["volume_m3"].tolist()[11:13] == [1.5, 0.5]
    assert [f.sentence() for f in found.findings] == [
        "readings/export 10.csv, row 2: got M at the same time as 12.5 and 12, expected one value "
        "at a time for each device. Remove the wrong one; the later one is used.",
    ]


def test_missing_readings_are_told_with_their_share(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    long(tmp_path, [r for i, r in enumerate(hours(101)) if i % 10 != 5])
    found = read(tmp_path, inputs_of([meter()]))
    assert [f.got for f in found.findings] == ["10 % missing"]
    assert found.quality.loc[0, "missing_share"] == pytest.approx(0.1)
    assert (found.intervals["quality"] == "gap").sum() == 10


def test_cleaning_is_told_by_file(tmp_path: Path, inputs_of: Callable[..., Any]) -> None:
    values: list[object] = [round(1 + np.sin(i), 3) for i in range(100)]
    values[40] = 500.0
    values[60:66] = [1.7] * 6
    long(tmp_path, hours(100, values))
    found = read(tmp_path, inputs_of([meter(kind="electromagnetic")]))
    assert [f.sentence() for f in found.findings] == [
        "readings/a.csv, meter M: got 1 reading far beyond all others of the same device, expected "
        "none. Nothing need be done; it is left out.",
        "readings/a.csv, meter M: got 6 readings of a value that stood still for hours, expected "
        "none. Nothing need be done; they are left out.",
    ]
    assert found.intervals["volume_m3"].isna().sum() == 7
    assert found.quality.loc[0, "unusable_share"] == pytest.approx(0.07)


def test_a_device_in_several_files_is_found_by_their_pattern(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    values: list[object] = [round(1 + np.sin(i), 3) for i in range(100)]
    values[40] = 500.0
    rows = hours(100, values)
    long(tmp_path, rows[:50])
    long(tmp_path, rows[50:], name="b.csv")
    found = read(tmp_path, inputs_of([meter(kind="electromagnetic")]))
    assert [f.source for f in found.findings] == ["readings/*"]
    assert found.quality.loc[0, "source"] == "readings/*"
    (tmp_path / "readings" / "b.csv").unlink()
    found = read(tmp_path, inputs_of([meter(kind="electromagnetic")]))
    assert found.quality.loc[0, "source"] == "readings/a.csv"


def test_a_meter_of_unknown_unit_has_one_finding_and_no_rows(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    long(tmp_path, hours(10))
    found = read(tmp_path, inputs_of([meter(kind="electromagnetic", reading_unit="bar")]))
    assert [f.severity for f in found.findings] == ["error"]
    assert found.intervals.empty


def test_without_layers_no_device_is_called_unknown(
    tmp_path: Path, inputs_of: Callable[..., Any]
) -> None:
    long(tmp_path, hours(10))
    assert read(tmp_path, inputs_of([])).findings == ()


def test_the_inputs_are_not_changed(tmp_path: Path, inputs_of: Callable[..., Any]) -> None:
    long(tmp_path, hours(10))
    inputs = inputs_of([meter()])
    before = inputs.meters.copy()
    read(tmp_path, inputs)
    pd.testing.assert_frame_equal(inputs.meters, before)


def test_travel_times_are_read_in_any_unit(tmp_path: Path, inputs_of: Callable[..., Any]) -> None:
    # Regression value: L 0.2 m, 45°, c 1480 m/s, v 1.0 m/s; 0.94 · π/4 · 0.1² m² · 3600 s/h.
    path = {"path_length_mm": 200, "path_angle_deg": 45, "bore_mm": 100, "profile_factor": 0.94}
    inputs = inputs_of([meter(kind="transit_time", **path)])
    (tmp_path / "readings").mkdir()
    for unit, per_us in (("us", 1.0), ("ns", 1000.0)):
        rows = [
            f"M,2025-01-01 {h:02d}:00,{135.1997 * per_us:.4f},{(135.0706 - h / 1e4) * per_us:.4f}"
            for h in range(20)
        ]
        text = "\n".join([f"device_id,time,up_{unit},down_{unit}", *rows])
        (tmp_path / "readings/a.csv").write_text(text + "\n")
        found = read(tmp_path, inputs)
        assert found.findings == ()
        assert found.intervals["volume_m3"].iloc[0] == pytest.approx(26.58, rel=1e-3)
        # 0.1 ns of 129 ns is 1/1290 of the flow.
        assert found.quality.loc[0, "resolution_m3"] == pytest.approx(28.3 / 1290, rel=0.02)
