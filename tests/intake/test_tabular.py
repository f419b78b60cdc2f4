from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.intake.table_shape import Shape
from district.intake.tables_in import tables_in
from district.intake.tabular import (
    numbers,
    part_rows,
    read_chunks,
    read_parts,
    read_table,
    shows_thousands,
)
from district.intake.unreadable import UnreadableError

ROWS = [["device_id", "time", "value"], ["Zähler 1", "2025-01-01 00:00", "1.5"]]


def written(separator: str = ",") -> str:
    return "\n".join(separator.join(row) for row in ROWS) + "\n"


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_separator_and_encoding_are_found(tmp_path: Path, separator: str, encoding: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(written(separator).encode(encoding))
    frame = read_table(path)
    assert list(frame.columns) == ROWS[0]
    assert list(frame.loc[2]) == ROWS[1]


def test_rows_are_numbered_as_a_spreadsheet_shows_them(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a,b\n1,2\n\n3,4\n")
    assert list(read_table(path).index) == [2, 4]


def test_a_separator_at_the_end_of_rows_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a;b\n1;2;\n3;4;\n")
    assert read_table(path)["a"].tolist() == ["1", "3"]


@pytest.mark.parametrize("suffix", [".xlsx", ".parquet"])
def test_other_formats_keep_their_kinds(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    frame = pd.DataFrame({"time": [pd.Timestamp("2025-01-01 00:15")], "value": [1.5]})
    if suffix == ".xlsx":
        frame.to_excel(path, index=False)
    else:
        frame.to_parquet(path)
    read = read_table(path)
    assert pd.Timestamp(read.loc[2, "time"]) == pd.Timestamp("2025-01-01 00:15")
    assert read.loc[2, "value"] == 1.5


def test_a_parquet_index_is_a_column(tmp_path: Path) -> None:
    path = tmp_path / "a.parquet"
    times = pd.DatetimeIndex(["2025-01-01"], name="time")
    pd.DataFrame({"M1": [1.0]}, index=times).to_parquet(path)
    assert list(read_table(path).columns) == ["time", "M1"]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.csv", b"", "an empty file"),
        ("a.csv", b"\n \n", "an empty file"),
        ("a.csv", b"\x00\x01\x02PK\x00" * 9, "a file that is not text"),
        ("a.parquet", b"text", "a file that cannot be read as parquet"),
        ("a.xlsx", b"text", "a file that cannot be read as xlsx"),
        ("a.csv", b"a,b\n1,2\n1,2,3,4\n1,2,3,4\n", "more values than headings in row 3"),
    ],
)
def test_what_cannot_be_read_says_why(tmp_path: Path, name: str, content: bytes, said: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(UnreadableError, match=said):
        read_table(path)


@pytest.mark.parametrize(
    ("texts", "values"),
    [
        (["1.5", "2", "-3e2"], [1.5, 2, -300]),
        (["1,5", "2,25"], [1.5, 2.25]),
        (["1.234,5", "0,5"], [1234.5, 0.5]),
        (["1,234.5", "0.5"], [1234.5, 0.5]),
        (["1 234,5", "1\u00a0234"], [1234.5, 1234]),
        (["1,234,567", "1,234"], [1234567, 1234]),
        (["12", "n/a", "", None], [12, np.nan, np.nan, np.nan]),
        (["inf", "nan"], [np.nan, np.nan]),
    ],
)
def test_numbers_as_people_write_them(texts: list[str | None], values: list[float]) -> None:
    np.testing.assert_allclose(numbers(pd.Series(texts)), values)


def test_numbers_are_kept_and_the_input_too() -> None:
    raw = pd.Series(["1", "x"])
    before = raw.copy()
    numbers(raw)
    pd.testing.assert_series_equal(raw, before)
    np.testing.assert_allclose(numbers(pd.Series([1, 2])), [1, 2])
    np.testing.assert_allclose(numbers(pd.Series([1, "2,5"], dtype=object)), [1, 2.5])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le"])
def test_a_limit_reads_the_first_rows_only(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "long.csv"
    path.write_bytes(("time,value\n" + "2025-01-01,1\n" * 50).encode(encoding))
    frame = read_table(path, limit=7)
    assert list(frame.columns) == ["time", "value"]
    assert len(frame) == 7
    assert len(read_table(path)) == 50


def test_a_limit_holds_for_parquet_and_spreadsheets_too(tmp_path: Path) -> None:
    whole = pd.DataFrame({"time": ["2025-01-01"] * 9, "value": range(9)})
    whole.to_parquet(tmp_path / "a.parquet")
    whole.to_excel(tmp_path / "a.xlsx", index=False)
    for name in ("a.parquet", "a.xlsx"):
        assert list(read_table(tmp_path / name, limit=4)["value"]) == [0, 1, 2, 3]


def test_what_no_meter_counts_to_is_no_number() -> None:
    assert np.isnan(numbers(pd.Series(["1e15", "-1e300", "inf", "1e400"]))).all()
    assert np.isnan(numbers(pd.Series([1e15, -np.inf]))).all()
    assert numbers(pd.Series(["999999999999"])).tolist() == [999999999999.0]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("rows", [1, 3, 50, 1000])
def test_parts_of_a_file_are_the_whole(tmp_path: Path, encoding: str, rows: int) -> None:
    path = tmp_path / "a.csv"
    lines = ["id;time;\u00dcber", *(f"\u00e4{i};2025-01-01;{i}" for i in range(20)), "", "x;;"]
    path.write_bytes("\n".join(lines).encode(encoding))
    parts = list(read_chunks(path, rows=rows))
    assert max(map(len, parts)) <= rows
    pd.testing.assert_frame_equal(pd.concat(parts), read_table(path))


@pytest.mark.parametrize("suffix", [".parquet", ".xlsx"])
def test_parts_of_other_formats(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    whole = pd.DataFrame({"time": pd.date_range("2025-01-01", periods=9, unit="us"), "v": range(9)})
    whole.set_index("time").to_parquet(path) if suffix == ".parquet" else whole.to_excel(
        path, index=False
    )
    parts = list(read_chunks(path, rows=4))
    assert [len(p) for p in parts] == ([4, 4, 1] if suffix == ".parquet" else [9])
    pd.testing.assert_frame_equal(pd.concat(parts), read_table(path))


def test_a_file_of_a_heading_only_has_one_part(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("time,value\n")
    pd.DataFrame({"time": [], "value": []}).to_parquet(tmp_path / "a.parquet")
    for name in ("a.csv", "a.parquet"):
        (part,) = read_chunks(tmp_path / name)
        assert part.empty
        assert list(part.columns) == ["time", "value"]


def test_a_sign_of_windows_far_down_decides_for_the_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"id,value\n" + b"M1,1\n" * 500_000 + "Z\u00e4hler,2\n".encode("cp1252"))
    *_, last = read_chunks(path, rows=200_000)
    assert last["id"].iloc[-1] == "Z\u00e4hler"


def test_what_commas_mean_can_be_said() -> None:
    texts = pd.Series(["1,234", "1,234,567"])
    assert shows_thousands(texts)
    assert not shows_thousands(texts[:1])
    assert numbers(texts[:1]).tolist() == [1.234]
    assert numbers(texts[:1], thousands=True).tolist() == [1234]
    assert np.isnan(numbers(texts, thousands=False)[1])


LOGGER = """Logger;Cellar
Serial;12345

Time;M1;M2;
;m3/h;l/s;
01.02.2025 00:00;1,5;2;

01.02.2025 01:00;1,5;2;
Total;3;4;
End of data
"""


def test_a_table_among_other_lines_keeps_its_row_numbers(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(LOGGER)
    frame = read_table(path)
    assert list(frame.columns) == ["Time", "M1", "M2"]
    assert list(frame.index) == [6, 8]
    assert list(read_table(path, limit=1).index) == [6]
    for rows in (1, 2, 3, 100):
        joined = pd.concat(list(read_chunks(path, rows=rows)))
        assert joined.loc[[6, 8], ["Time", "M1", "M2"]].equals(frame)


def test_sheets_come_one_after_the_other(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    rows = pd.DataFrame({"time": [pd.Timestamp("2025-01-01")], "M1": [1.5]})
    with pd.ExcelWriter(path) as book:
        rows.to_excel(book, sheet_name="May", index=False, startrow=2, startcol=1)
        rows.to_excel(book, sheet_name="June", index=False)
    parts = list(read_chunks(path))
    assert [list(p.index) for p in parts] == [[4], [2]]
    assert all(list(p.columns) == ["time", "M1"] for p in parts)
    for shape, part in zip(tables_in(path).shapes, parts, strict=True):
        pd.testing.assert_frame_equal(next(read_parts(path, shape)), part)
    assert list(read_table(path, sheet="June").index) == [2]


def test_of_many_columns_fewer_rows_are_read_at_once() -> None:
    assert part_rows(Shape(width=3), 1000) == 1000
    assert part_rows(Shape(width=600), 1_000_000) == 10_000
    assert part_rows(Shape(width=10**9), 1000) == 1


def test_lists_and_records_of_parquet_are_texts(tmp_path: Path) -> None:
    odd = pd.DataFrame({"time": [None, [1, 2]], "value": [{"a": 1}, None], "note": ["x", None]})
    odd.to_parquet(tmp_path / "a.parquet")
    read = read_table(tmp_path / "a.parquet")
    assert read["time"].isna().tolist() == [True, False]
    assert str(read["time"].iloc[1]).startswith("[1")
    assert str(read["value"].iloc[0]).startswith("{'a': 1")
    pd.DataFrame({"device_id": [b"MA", b"\x80"]}).to_parquet(tmp_path / "b.parquet")
    assert read_table(tmp_path / "b.parquet")["device_id"].tolist() == [
        "MA",
        "\N{REPLACEMENT CHARACTER}",
    ]


@pytest.mark.parametrize(
    ("texts", "read"),
    [
        (["182", "526", "993", "1.425", "1.972"], [182, 526, 993, 1425, 1972]),
        (["182", "526", "993", "1.425", "2.5"], [182, 526, 993, 1.425, 2.5]),
        (["1820", "526", "993", "1.425"], [1820, 526, 993, 1.425]),
        (["0.125", "1", "2", "3"], [0.125, 1, 2, 3]),
        (["1.425", "1.972"], [1.425, 1.972]),
        ([275531, 348178, 384370, "311,987"], [275531, 348178, 384370, 311987]),
        ([275531, 348178, 384370, "311,987", "12,5O0"], [275531, 348178, 384370, 311987, None]),
        (["12", "13", "14", "12,5"], [12, 13, 14, 12.5]),
        (["12", "13", "14", "0,125"], [12, 13, 14, 0.125]),
        (["12,345", "12,346"], [12.345, 12.346]),
    ],
)
def test_marks_that_group_digits(texts: list[object], read: list[float | None]) -> None:
    found = numbers(pd.Series(texts, dtype=object))
    expected = np.array([np.nan if v is None else v for v in read])
    np.testing.assert_array_equal(found, expected)


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_headings_that_differ_by_spaces_are_told_apart(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    frame = pd.DataFrame([["2025-01-01", 1, 2, 3]], columns=["time", "M1", "M1 ", "M1.1"])
    frame.to_csv(path, index=False) if suffix == ".csv" else frame.to_excel(path, index=False)
    assert list(read_table(path).columns) == ["time", "M1", "M1.1", "M1.1.1"]
