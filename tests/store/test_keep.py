from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from district.errors import Finding, StoreError
from district.results import Readings
from district.store import is_current, load_findings, load_quality, save
from tests.store.conftest import intervals, samples

FINDINGS = (Finding("warning", "a.csv", "row 2", got='"é"', expected="b", remedy="C"),)


def test_what_is_kept_comes_back(kept: Callable[..., Path]) -> None:
    place = kept(
        intervals("M2", "2025-01-31 22:00", [1, 2, 3, 4]),
        intervals("M1", "2025-01-31 22:00", [5, 6, 7, 8]),
        samples("P1", ["2025-03-01"], [40]),
        findings=FINDINGS,
    )
    assert is_current(place, "mark")
    assert load_findings(place) == FINDINGS
    assert set(load_quality(place)["device_id"]) == {"M1", "M2", "P1"}
    months = sorted(p.name for p in (place / "intervals").iterdir())
    assert months == ["2025-01.parquet", "2025-02.parquet"]
    january = pd.read_parquet(place / "intervals/2025-01.parquet")
    assert january["device_id"].tolist() == ["M1", "M1", "M2", "M2"]
    assert january["start_utc"].dt.hour.tolist() == [22, 23, 22, 23]


def test_nothing_is_kept_as_empty_tables(kept: Callable[..., Path]) -> None:
    place = kept()
    assert is_current(place, "mark")
    assert len(pd.read_parquet(place / "intervals/none.parquet")) == 0


def test_what_stood_there_goes(kept: Callable[..., Path]) -> None:
    kept(intervals("M1", "2025-01-31 22:00", [1, 2, 3, 4]))
    place = kept(intervals("M1", "2025-05-01", [1, 2]))
    assert [p.name for p in (place / "intervals").iterdir()] == ["2025-05.parquet"]


def test_a_save_that_breaks_off_leaves_the_old(
    kept: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = kept(intervals("M1", "2025-01-01", [1, 2]))
    before = sorted(str(p) for p in place.rglob("*"))

    def broken(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(pd.DataFrame, "to_parquet", broken)
    frame = intervals("M1", "2025-05-01", [1, 2])
    with pytest.raises(KeyboardInterrupt):
        save(place, Readings(frame, samples("P", [], []), pd.DataFrame()), "new")
    assert sorted(str(p) for p in place.rglob("*")) == before
    assert is_current(place, "mark")
    assert [p.name for p in place.parent.iterdir()] == ["place"]


def test_saving_does_not_change_the_readings(tmp_path: Path) -> None:
    frame = intervals("M1", "2025-05-01", [2, 1])[::-1]
    before = frame.copy()
    save(tmp_path / "p", Readings(frame, samples("P", [], []), pd.DataFrame()), "m")
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.parametrize("text", ["{", "[1]", '[{"severity": "note"}]'])
def test_damaged_findings_are_told(kept: Callable[..., Path], text: str) -> None:
    place = kept()
    (place / "findings.json").write_text(text)
    with pytest.raises(StoreError, match=r"are damaged\. Delete this folder"):
        load_findings(place)
