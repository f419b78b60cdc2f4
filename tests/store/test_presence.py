from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from district.store import KeptFile, Manifest, devices_in, holding, presence_of
from tests.store.test_raw import IDS, piece, write


def taken(place: Path, *parts: str) -> Manifest:
    key, _ = presence_of(place, None, parts)
    return Manifest("", tuple(KeptFile(p, "", "", p, 1) for p in parts), (), (), "", key)


def test_files_that_came_since_are_added(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    write(tmp_path, "b", piece(IDS[:30], 2), piece(IDS[:30], 32))
    _, anew = presence_of(tmp_path, None, ["a", "b"])
    before = taken(tmp_path, "a")
    (tmp_path / "raw/a/devices.parquet").unlink()
    key, added = presence_of(tmp_path, before, ["b", "a"])
    pd.testing.assert_frame_equal(added, anew)
    assert key == presence_of(tmp_path, before, ["a", "b"])[0]
    counts = anew.groupby("device_id", observed=True)["rows_count"].sum()
    assert counts["M0"] == 3
    assert counts["M59"] == 1
    assert anew["device_id"].is_monotonic_increasing


def test_a_file_gone_is_counted_no_longer(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    write(tmp_path, "b", piece(IDS[:30], 2))
    before = taken(tmp_path, "a", "b")
    _, left = presence_of(tmp_path, before, ["b"])
    assert len(left) == 30
    assert presence_of(tmp_path, before, [])[1].empty


def test_another_value_is_another_mark(tmp_path: Path) -> None:
    one, other = piece(IDS[:1], 2), piece(IDS[:1], 2)
    other["value"] += 0.5
    marks = []
    for n, rows in enumerate((one, other, one)):
        write(tmp_path, str(n), rows)
        marks.append(presence_of(tmp_path, None, [str(n)])[1]["mark"].iloc[0])
    assert marks[0] != marks[1]
    assert marks[0] == marks[2]


def test_a_file_without_its_count_is_damaged(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    (tmp_path / "raw/a/devices.parquet").write_bytes(b"no")
    with pytest.raises(OSError, match="raw rows"):
        presence_of(tmp_path, None, ["a"])
    with pytest.raises(OSError, match="raw rows"):
        devices_in(tmp_path, ["a"])


def test_which_files_hold_a_device(tmp_path: Path) -> None:
    write(tmp_path, "a", piece(IDS, 2))
    write(tmp_path, "b", piece(IDS[:30], 2))
    assert holding(tmp_path, ["a", "b"], pd.DataFrame({"device_id": ["M59"]})) == ["a"]
    assert holding(tmp_path, ["a", "b"], pd.DataFrame({"device_id": ["M3"]})) == ["a", "b"]
    assert holding(tmp_path, [], pd.DataFrame({"device_id": ["M3"]})) == []
    assert devices_in(tmp_path, ["b"]) == frozenset(IDS[:30])
    assert devices_in(tmp_path, []) == frozenset()
