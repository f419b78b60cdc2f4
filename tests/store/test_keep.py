from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from district.errors import Finding, StoreError
from district.results import Readings
from district.store import (
    KeptFile,
    Manifest,
    clear,
    group_key,
    load_group,
    load_quality,
    read_manifest,
    sweep,
    write_group,
)
from tests.store.conftest import intervals, quality, samples, save

FINDINGS = (Finding("warning", "a.csv", "row 2", got='"é"', expected="b", remedy="C"),)
NOTHING = Manifest("", (), (), ())


def readings(*volumes: float) -> Readings:
    frame = intervals("M1", "2025-05-01", list(volumes))
    return Readings(frame, samples("P", [], []), quality({"device_id": "M1"}), FINDINGS)


def test_what_is_kept_comes_back_in_order_of_device_and_time(kept: Callable[..., Path]) -> None:
    place = kept(
        intervals("M2", "2025-01-31 22:00", [1, 2, 3, 4]),
        intervals("M1", "2025-01-31 22:00", [5, 6, 7, 8]),
        samples("P1", ["2025-03-01"], [40]),
        findings=FINDINGS,
    )
    manifest = read_manifest(place)
    assert manifest is not None
    assert manifest.findings == FINDINGS
    assert load_quality(place)["device_id"].tolist() == ["M1", "M2", "P1"]
    flows = pd.read_parquet(place / "cleaned" / manifest.groups[0] / "intervals.parquet")
    assert flows["volume_m3"].tolist() == [5, 6, 7, 8, 1, 2, 3, 4]


def test_a_group_that_is_not_whole_is_not_there(tmp_path: Path) -> None:
    write_group(tmp_path, "00-x", readings(1, 2))
    again = load_group(tmp_path, "00-x")
    assert again is not None
    assert again[1] == FINDINGS
    (tmp_path / "cleaned/00-x/told.json").write_text('[{"severity": "note"}]')
    assert load_group(tmp_path, "00-x") is None
    assert load_group(tmp_path, "00-y") is None


def test_a_write_that_breaks_off_leaves_the_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(tmp_path / "place", readings(1, 2))
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}

    def broken(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(pq, "write_table", broken)
    with pytest.raises(KeyboardInterrupt):
        write_group(tmp_path / "place", "00-y", readings(3))
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_keeping_does_not_change_the_readings(tmp_path: Path) -> None:
    given = readings(2, 1)
    before = given.intervals.copy()
    write_group(tmp_path, "00-x", given)
    pd.testing.assert_frame_equal(given.intervals, before)


def test_a_key_is_of_all_that_is_said() -> None:
    assert group_key(3, ["a", "b"]).startswith("03-")
    assert group_key(3, ["a", "b"]) == group_key(3, ["a", "b"])
    assert len({group_key(3, said) for said in (["a"], ["b"], ["a", "b"], [])}) == 4


def test_sweeping_removes_what_is_held_no_longer(tmp_path: Path) -> None:
    for key in ("00-old", "00-new", "00-of another run", "00-left long ago"):
        write_group(tmp_path, key, readings(1))
    os.utime(tmp_path / "cleaned/00-left long ago", (0, 0))
    part = tmp_path / "raw/old part"
    part.mkdir(parents=True)
    (tmp_path / "intervals").mkdir()
    before = Manifest("", (KeptFile("a", "", "", "old part", 1),), ("00-old",), ())
    sweep(tmp_path, before, Manifest("", (), ("00-new",), ()))
    left = sorted(p.name for p in (tmp_path / "cleaned").iterdir())
    assert left == ["00-new", "00-of another run"]
    assert not part.exists()
    assert not (tmp_path / "intervals").exists()


def test_clearing_leaves_nothing(tmp_path: Path) -> None:
    save(tmp_path, readings(1))
    clear(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_quality_that_cannot_be_read_is_told(kept: Callable[..., Path]) -> None:
    place = kept(intervals("M1", "2025-01-01", [1, 2]))
    next(place.rglob("device_quality.parquet")).write_bytes(b"no")
    with pytest.raises(StoreError, match=r"are damaged\. Delete this folder"):
        load_quality(place)
