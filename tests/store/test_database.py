from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.results import Readings
from district.schema.columns import empty
from district.schema.stored import ALARMS, INTERVALS, NIGHT_FLOWS, SAMPLES
from district.store.database import as_declared, opened, put, span_us
from tests.store.conftest import intervals, quality, samples, save, save_parts


def test_times_are_whole_microseconds(kept: Callable[..., Path]) -> None:
    place = kept(intervals("M1", "2025-01-01", [1, 2]))
    with opened(place) as connection:
        rows = connection.execute("SELECT start_us, end_us FROM intervals").fetchall()
        first = pd.Timestamp("2025-01-01", tz="UTC").value // 1000
        assert rows[0] == (first, first + 3_600_000_000)
        assert span_us(connection, INTERVALS) == (first, first + 7_200_000_000)
        assert span_us(connection, SAMPLES) is None


def test_all_rows_are_one_table(kept: Callable[..., Path]) -> None:
    place = kept(
        intervals("M1", "2025-01-31 22:00", [1, 2, 3, 4]), samples("P", ["2025-01-01"], [1])
    )
    with opened(place) as connection:
        assert connection.execute("SELECT sum(volume_m3) FROM intervals").fetchall() == [(10.0,)]


def test_the_span_of_many_parts_is_that_of_all_rows(tmp_path: Path) -> None:
    random = np.random.default_rng(5)
    days = pd.date_range("2025-01-01", periods=90, freq="D", tz="UTC")
    for trial in range(6):
        begin = random.choice(days.to_numpy(), size=7)
        tables = [
            intervals(f"M{n}", str(at)[:19], np.ones(random.integers(1, 400)))
            for n, at in enumerate(begin)
        ]
        place = tmp_path / str(trial)
        save_parts(place, [*tables, samples("P", ["2025-02-01"], [1.0])], quality())
        with opened(place) as connection:
            span = span_us(connection, INTERVALS)
            told = "SELECT min(start_us), max(end_us) FROM intervals"
            assert span == connection.execute(told).fetchone()
            at_us = pd.Timestamp("2025-02-01", tz="UTC").value // 1000
            assert span_us(connection, SAMPLES) == (at_us, at_us)


def test_what_lies_far_from_the_dates_asked_for_is_left_out(kept: Callable[..., Path]) -> None:
    # Three hundred days of one reading each; whatever the clock, two days either side are there.
    place = kept(intervals("M1", "2025-01-01", np.ones(300), minutes=1440))
    dates = pd.date_range("2025-04-01", "2025-04-10")
    with opened(place, near=dates) as connection:
        first, last = connection.execute(
            "SELECT min(start_us), max(end_us) FROM intervals"
        ).fetchone()
    day_us = 86_400_000_000
    assert dates[0].value // 1000 - 5 * day_us <= first <= dates[0].value // 1000 - 2 * day_us
    assert dates[-1].value // 1000 + 3 * day_us <= last <= dates[-1].value // 1000 + 6 * day_us


def test_a_quote_in_the_path_is_no_harm(tmp_path: Path, kept: Callable[..., Path]) -> None:
    place = kept(intervals("M1", "2025-01-01", [1, 2])).rename(tmp_path / "owner's place")
    with opened(place) as connection:
        assert connection.execute("SELECT count(*) FROM intervals").fetchall() == [(2,)]


def test_small_tables_can_be_joined(kept: Callable[..., Path]) -> None:
    with opened(kept(intervals("M1", "2025-01-01", [1, 2]))) as connection:
        put(connection, "names", pd.DataFrame({"device_id": ["M1"], "name": ["one"]}))
        joined = "SELECT count(*) FROM intervals JOIN names USING (device_id)"
        assert connection.execute(joined).fetchall() == [(2,)]


def test_results_are_in_declared_order_and_kind() -> None:
    frame = pd.DataFrame(
        {
            "window_h": [2, 2],
            "device_id": ["B", "A"],
            "night": ["2025-01-01"] * 2,
            "flow_l_s": [1, 2],
            "gross_l_s": [1, 2],
            "coverage_share": [1, 1],
        }
    )
    tidy = as_declared(frame, NIGHT_FLOWS)
    assert tuple(tidy.columns) == NIGHT_FLOWS.names()
    assert tidy["device_id"].tolist() == ["A", "B"]
    assert str(tidy["night"].dtype) == "datetime64[us]"
    spells = pd.DataFrame({"device_id": ["W", "W"], "start_utc": [2, 1], "end_utc": [3, 1]})
    spells = spells.assign(readings_count=1, onsets_count=1, alarm_h=0.0)
    assert as_declared(spells, ALARMS)["start_utc"].tolist() == [1, 2]


@pytest.mark.parametrize("name", ["site [1]", "site*", "site ?"])
def test_a_folder_named_like_a_pattern_reads_no_other(tmp_path: Path, name: str) -> None:
    for folder, volume in ((name, 1.0), ("site 1", 7.0)):
        flows = intervals("M1", "2025-03-01", [volume])
        save(tmp_path / folder, Readings(flows, empty(SAMPLES), quality()))
    with opened(tmp_path / name) as connection:
        assert connection.execute("SELECT sum(volume_m3) FROM intervals").fetchall() == [(1.0,)]
