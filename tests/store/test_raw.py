from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.errors import Finding
from district.results import FileRead
from district.schema.stored import RAW
from district.store import GROUPS, group_of, load_part, part_key, pieces_of, raw_rows, write_part
from district.store.raw import Sink

IDS = [f"M{i}" for i in range(60)]
TOLD = FileRead((Finding("note", "a.csv", "row 2", got="é", count=3),), 7, named_by_file=True)


def piece(ids: list[str], first_row: int) -> pd.DataFrame:
    """A reading of each device in turn, as a piece of a file."""
    count = len(ids)
    return pd.DataFrame(
        {
            "device_id": pd.Categorical(ids, categories=IDS),
            "time_utc": pd.date_range("2025-01-01", periods=count, freq="h", tz="UTC", unit="us"),
            "later_s": np.zeros(count, np.int32),
            "value": np.arange(count, dtype=float),
            "rate": np.full(count, np.nan),
            "row": np.arange(first_row, first_row + count, dtype=np.int32),
        }
    )


def write(place: Path, key: str, *pieces: pd.DataFrame) -> FileRead:
    def read(sink: Sink) -> FileRead:
        for some in pieces:
            sink(some)
        return TOLD

    return write_part(place, key, read)


def test_rows_come_back_by_group_in_the_order_of_their_file(tmp_path: Path) -> None:
    assert write(tmp_path, "a", piece(IDS, 2), piece(IDS[::-1], 62)) == TOLD
    write(tmp_path, "b", piece(IDS[:30], 2))
    seen = []
    for group in range(GROUPS):
        rows = raw_rows(tmp_path, ["a", "b"], [group])
        assert set(RAW.names()) | {"file", "group"} == set(rows.columns)
        assert set(rows["group"]) == {group}
        assert {group_of(i) for i in rows["device_id"]} <= {group}
        assert rows["file"].is_monotonic_increasing
        assert all(r.is_monotonic_increasing for _, r in rows.groupby("file")["row"])
        seen.append(rows)
    every = pd.concat([s.astype({"device_id": str}) for s in seen])
    assert sorted(every["device_id"]) == sorted([*IDS, *IDS, *IDS[:30]])
    at_once = raw_rows(tmp_path, ["a", "b"], range(GROUPS)).astype({"device_id": str})
    alike = ["group", "file", "row"]
    pd.testing.assert_frame_equal(
        at_once.sort_values(alike, ignore_index=True), every.sort_values(alike, ignore_index=True)
    )


def test_what_reading_told_comes_back(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS[:1], 2))
    again = load_part(tmp_path, "a")
    assert again == TOLD
    assert again.findings[0].count == 3
    first = 1_735_689_600_000_000  # 2025-01-01 00:00 UTC, from GNU date.
    assert pieces_of(tmp_path, ["a"]) == {"a": [[group_of("M0"), first, first]]}
    assert load_part(tmp_path, "b") is None


@pytest.mark.parametrize("name", ["rows.parquet", "devices.parquet", "told.json"])
def test_a_part_that_is_not_whole_is_not_there(tmp_path: Path, name: str) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    (tmp_path / "raw/a" / name).unlink()
    assert load_part(tmp_path, "a") is None
    with pytest.raises(OSError, match="raw rows a"):
        raw_rows(tmp_path, ["a"], [0])


def test_only_rows_of_a_span_and_some_devices_come_back(tmp_path: Path) -> None:
    # A row an hour from January 1 on.
    write(tmp_path, "a", piece(IDS, 2), piece(IDS, 62))
    hour, start = 3_600_000_000, 1_735_689_600_000_000
    rows = raw_rows(
        tmp_path, ["a"], range(GROUPS), from_us=start + 5 * hour, to_us=start + 9 * hour
    )
    assert sorted(rows["value"]) == [5, 5, 6, 6, 7, 7, 8, 8]
    rows = raw_rows(tmp_path, ["a"], range(GROUPS), devices={"M5", "M59"})
    assert sorted(rows["device_id"].astype(str)) == ["M5", "M5", "M59", "M59"]


def test_a_reading_of_an_hour_that_comes_twice_is_found_by_both_its_times(tmp_path: Path) -> None:
    one = piece(IDS[:1], 2).assign(later_s=np.int32(3600))
    write(tmp_path, "a", one)
    hour, start = 3_600_000_000, 1_735_689_600_000_000
    for span, count in (((0, 1), 1), ((1, 2), 1), ((2, 3), 0)):
        first, last = (start + n * hour for n in span)
        found = raw_rows(tmp_path, ["a"], range(GROUPS), from_us=first, to_us=last)
        assert len(found) == count


def test_a_file_of_months_is_kept_month_by_month(tmp_path: Path) -> None:
    long = piece(["M1"] * 60, 2)
    long["time_utc"] = pd.date_range("2025-01-01", periods=60, freq="D", tz="UTC", unit="us")
    write(tmp_path, "a", long)
    (stretches,) = pieces_of(tmp_path, ["a"]).values()
    # 31 days of January, 28 of February, one of March.
    assert [(last - first) // 86_400_000_000 for _, first, last in stretches] == [30, 27, 0]


def test_a_file_without_rows_is_kept_too(tmp_path: Path) -> None:
    write(tmp_path, "a")
    assert load_part(tmp_path, "a") == TOLD
    assert len(raw_rows(tmp_path, ["a"], [3])) == 0


def test_a_file_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    def broken(sink: Sink) -> FileRead:
        sink(piece(IDS, 2))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_part(tmp_path, "a", broken)
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []


def test_groups_are_the_same_everywhere() -> None:
    # CRC-32 of the ISO 3309 check text "123456789" is CBF43926 (published check value).
    assert group_of("123456789") == 0xCBF43926 % GROUPS
    shares = np.bincount([group_of(f"meter {i}") for i in range(1600)], minlength=GROUPS)
    assert shares.min() > 50


def test_a_key_is_of_contents_and_reading() -> None:
    assert part_key("a", "b") == part_key("a", "b")
    assert len({part_key("a", "b"), part_key("a", "c"), part_key("c", "b")}) == 3


def test_a_part_of_another_version_is_not_there(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    told = tmp_path / "raw/a/told.json"
    told.write_text(told.read_text().replace("named_by_file", "named"))
    assert load_part(tmp_path, "a") is None


def test_a_file_of_no_use_is_tried_again(tmp_path: Path) -> None:
    useless = FileRead((Finding("error", "a.csv", got="a file that cannot be read as csv"),))
    write_part(tmp_path, "a", lambda _: useless)
    assert load_part(tmp_path, "a") is None
