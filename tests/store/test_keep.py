from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from district.errors import Finding, StoreError
from district.results import Readings
from district.schema.stored import DEVICE_QUALITY, INTERVALS
from district.store import (
    KeptFile,
    KeptPart,
    Manifest,
    clear,
    contents_key,
    kept_file,
    key_of,
    load_frames,
    load_quality,
    load_told,
    read_manifest,
    span_of,
    sweep,
    write_kept,
    write_manifest,
)
from district.store.keep import part_files
from tests.store.conftest import intervals, quality, samples, save

FINDINGS = (Finding("warning", "a.csv", "row 2", got='"é"', expected="b", remedy="C"),)


def readings(*volumes: float) -> Readings:
    frame = intervals("M1", "2025-05-01", list(volumes))
    return Readings(frame, samples("P", [], []), quality({"device_id": "M1"}), FINDINGS)


def write(place: Path, key: str, *volumes: float) -> None:
    write_kept(place, key, {INTERVALS: readings(*volumes).intervals}, {"é": 1})


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
    (part,) = manifest.parts
    flows = pd.read_parquet(kept_file(place, part.key, INTERVALS))
    assert flows["volume_m3"].tolist() == [5, 6, 7, 8, 1, 2, 3, 4]


def test_categories_are_kept_as_texts_in_order(tmp_path: Path) -> None:
    frame = intervals("M1", "2025-05-01", [1, 2, 3])
    for order in (["M2", "M1"], ["M1", "M2"]):
        mixed = frame.assign(device_id=pd.Categorical(["M2", "M1", "M2"], categories=order))
        write_kept(tmp_path, "x", {INTERVALS: mixed}, {})
        back = pd.read_parquet(kept_file(tmp_path, "x", INTERVALS))
        assert back["device_id"].tolist() == ["M1", "M2", "M2"]
        assert back["volume_m3"].tolist() == [2, 1, 3]
        assert (
            back["device_id"].dtype == pd.Series(["M1"]).dtype or back["device_id"].dtype == object
        )


def test_tables_of_several_keys_come_back_one_after_the_other(tmp_path: Path) -> None:
    write(tmp_path, "b", 1, 2)
    write(tmp_path, "a", 3)
    both = load_frames(tmp_path, ["b", "a"], INTERVALS)
    assert both["volume_m3"].tolist() == [1, 2, 3]
    assert load_frames(tmp_path, ["b"], INTERVALS, devices=["M2"]).empty
    with pytest.raises(StoreError, match="damaged"):
        load_frames(tmp_path, ["c"], INTERVALS)


def test_what_is_not_whole_is_not_there(tmp_path: Path) -> None:
    write(tmp_path, "x", 1, 2)
    assert load_told(tmp_path, "x") == {"é": 1}
    (tmp_path / "cleaned/x/told.json").write_text('{"é": ')
    assert load_told(tmp_path, "x") is None
    assert load_told(tmp_path, "y") is None


def test_a_write_that_breaks_off_leaves_the_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(tmp_path / "place", readings(1, 2))
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}

    def broken(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(pq, "write_table", broken)
    with pytest.raises(KeyboardInterrupt):
        write(tmp_path / "place", "y", 3)
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_keeping_does_not_change_the_readings(tmp_path: Path) -> None:
    given = readings(2, 1)
    before = given.intervals.copy()
    write_kept(tmp_path, "x", {INTERVALS: given.intervals}, {})
    pd.testing.assert_frame_equal(given.intervals, before)


def test_a_key_is_of_all_that_is_said() -> None:
    assert key_of("03", ["a", "b"]).startswith("03-")
    assert key_of("03", ["a", "b"]) == key_of("03", ["a", "b"])
    assert len({key_of("03", said) for said in (["a"], ["b"], ["a", "b"], [])}) == 4


def test_a_contents_key_is_of_every_value() -> None:
    first, other = readings(1, 2).intervals, readings(1, 3).intervals
    assert contents_key("x", first) == contents_key("x", first.copy())
    assert contents_key("x", first) != contents_key("x", other)
    assert contents_key("x", first) != contents_key("x", first.assign(quality="gap"))


def test_the_span_of_a_part_is_of_intervals_and_samples() -> None:
    flows, seen = intervals("M", "2025-05-01", [1, 2]), samples("P", ["2025-05-01 05:00"], [1])
    # 1 May 2025 00:00 UTC is 1 746 057 600 s after 1970 (GNU date).
    start = 1_746_057_600_000_000
    assert span_of(flows, seen.iloc[:0]) == (start, start + 2 * 3_600_000_000)
    assert span_of(flows, seen) == (start, start + 5 * 3_600_000_000)
    assert span_of(flows.iloc[:0], seen.iloc[:0]) == (0, -1)


def test_months_find_all_parts_that_touch_them(tmp_path: Path) -> None:
    january, march = 1_735_689_600_000_000, 1_740_787_200_000_000
    parts = (
        KeptPart(0, "2025-03", "long", january, march),
        KeptPart(0, "2025-01", "short", january, january + 1),
        KeptPart(0, "2025-01", "none", 0, -1),
    )
    write_manifest(tmp_path, Manifest("", (), parts, ()))
    found = [
        [p.parent.name for p in part_files(tmp_path, INTERVALS, months)]
        for months in (["2025-01"], ["2025-02"], ["2025-01", "2025-03"], ["2025-04"], None)
    ]
    assert found == [["long", "short"], ["long"], ["long", "short"], [], ["long", "short", "none"]]


def test_sweeping_removes_what_is_held_no_longer(tmp_path: Path) -> None:
    for key in ("old", "new", "seldom", "quality", "presence", "of another run", "left long ago"):
        write(tmp_path, key, 1)
    os.utime(tmp_path / "cleaned/left long ago", (0, 0))
    part = tmp_path / "raw/old part"
    part.mkdir(parents=True)
    (tmp_path / "intervals").mkdir()
    old, new = (KeptPart(0, "2025-05", key, 0, 1) for key in ("old", "new"))
    before = Manifest("", (KeptFile("a", "", "", "old part", 1),), (old,), ())
    now = Manifest("", (), (new,), (), "quality", "presence", {"seldom": ()})
    sweep(tmp_path, before, now)
    left = sorted(p.name for p in (tmp_path / "cleaned").iterdir())
    assert left == ["new", "of another run", "presence", "quality", "seldom"]
    assert not part.exists()
    assert not (tmp_path / "intervals").exists()


def test_clearing_leaves_nothing(tmp_path: Path) -> None:
    save(tmp_path, readings(1))
    clear(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_quality_that_cannot_be_read_is_told(kept: Callable[..., Path]) -> None:
    place = kept(intervals("M1", "2025-01-01", [1, 2]))
    next(place.rglob(f"{DEVICE_QUALITY.name}.parquet")).write_bytes(b"no")
    with pytest.raises(StoreError, match=r"are damaged\. Delete this folder"):
        load_quality(place)
