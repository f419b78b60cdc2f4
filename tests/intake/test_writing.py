from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.intake.clock import read_times
from district.intake.table_shape import Shape
from district.intake.tables_in import tables_in
from district.intake.tabular import numbers, read_chunks, read_parts, read_table
from district.intake.writing import Writing, how_written, written

UTC = ZoneInfo("UTC")


def file(folder: Path, dates: list[str], values: list[str]) -> Path:
    path = folder / "a.csv"
    rows = [f"{d} 00:00;{v}" for d, v in zip(dates, values, strict=True)]
    path.write_text("\n".join(["time;value", *rows]) + "\n")
    return path


def shape_of(path: Path) -> Shape:
    return tables_in(path).shapes[0]


def test_parts_are_read_as_the_whole(tmp_path: Path) -> None:
    """Only the last day tells days from months, only the last value grouping from decimals."""
    dates = [f"{d:02d}/02/2025" for d in range(1, 28)]
    path = file(tmp_path, dates, [*["1,234"] * 26, "1,234,567"])
    writing = how_written(path, shape_of(path), rows=5)
    whole = read_table(path)
    parts = list(read_chunks(path, rows=5))
    assert [len(p) for p in parts] == [5, 5, 5, 5, 5, 2]
    times = [read_times(p["time"], zone=UTC, layout=writing.layouts["time"]).utc for p in parts]
    values = [numbers(p["value"], thousands=writing.thousands["value"]) for p in parts]
    assert times[0].append(times[1:]).equals(read_times(whole["time"], zone=UTC).utc)
    np.testing.assert_array_equal(np.concatenate(values), numbers(whole["value"]))
    assert np.concatenate(values)[0] == 1234
    # What a part would make of itself.
    assert read_times(parts[0]["time"], zone=UTC).utc.isna().all()
    assert numbers(parts[0]["value"])[0] == 1.234


@pytest.mark.parametrize(
    ("dates", "values"),
    [
        (["2025-02-01"] * 9, ["1.5"] * 9),
        (["01.02.2025"], ["1,5"]),
    ],
)
def test_nothing_to_agree_on(tmp_path: Path, dates: list[str], values: list[str]) -> None:
    path = file(tmp_path, dates, values)
    assert how_written(path, shape_of(path), rows=20) == Writing()


def test_dates_in_doubt_stay_in_doubt() -> None:
    parts = [pd.DataFrame({"d": ["01/02/2025"]}), pd.DataFrame({"d": ["03/04/2025"]})]
    assert written(parts, ["d"], [], []).layouts == {"d": -1}
    assert read_times(parts[0]["d"], zone=UTC, layout=-1).unreadable.all()


def test_points_that_group_are_found_once(tmp_path: Path) -> None:
    path = file(tmp_path, ["2025-02-01"] * 9, ["998", "999", "997", *["1.000"] * 6])
    assert how_written(path, shape_of(path), rows=1000) == Writing()
    assert how_written(path, shape_of(path), rows=2).points == {"value": True}


def test_a_later_part_may_deny_that_points_group() -> None:
    parts = [pd.DataFrame({"v": v}) for v in (["998", "1.000"], ["1.002", None], ["0.5"])]
    assert written(parts[:2], [], [], ["v"]).points == {"v": True}
    assert written(parts, [], [], ["v"]).points == {"v": False}


def test_a_file_of_empty_cells_is_not_taken_for_one_part(tmp_path: Path) -> None:
    """Only January tells days from months, and February is in a part of its own."""
    path = tmp_path / "a.csv"
    days = [*(f"{d:02d}/01/2025" for d in range(12, 32)), *("01/02/2025", "02/02/2025")]
    heading = ",".join(f"M{i}" for i in range(300))
    path.write_text("\n".join([f"time,{heading}", *(f"{d},5{',' * 299}" for d in days)]) + "\n")
    shape = shape_of(path)
    layout = how_written(path, shape, rows=20).layouts["time"]
    *_, february = read_parts(path, shape, rows=20)
    assert len(february) == 2
    read = read_times(february["time"], zone=UTC, layout=layout)
    assert read.utc.strftime("%d %b").tolist() == ["01 Feb", "02 Feb"]
