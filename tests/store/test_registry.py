"""What was told is kept whole, and comes back as it was."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from district.schema.columns import empty
from district.schema.event_tables import TOLD
from district.store import (
    Manifest,
    Registry,
    Told,
    before_of,
    clear,
    read_registry,
    sweep,
    write_manifest,
    write_registry,
)
from district.store.registry import REGISTRY


def told(mark: str, *ids: str) -> Told:
    rows = empty(TOLD).reindex(range(len(ids)))
    rows["alarm_id"] = list(ids)
    rows["headline"] = "Ž\n\x07,"
    rows["act"], rows["over"] = True, False
    rows["start"] = pd.Timestamp("2031-03-10")
    rows["updated_utc"] = pd.Timestamp("2031-03-12 05:45", tz="UTC")
    rows["size_l_s"] = 0.1 + 0.2
    return Told(mark, date(2031, 3, 12), datetime(2031, 3, 12, 5, 45, tzinfo=UTC), rows)


def test_what_was_told_comes_back(tmp_path: Path) -> None:
    write_registry(tmp_path / "place", Registry(told("b", "A1", "A2"), told("a", "A1")))
    again = read_registry(tmp_path / "place")
    assert again is not None
    assert again.before is not None
    assert (again.now.mark, again.before.mark) == ("b", "a")
    assert again.now.last == date(2031, 3, 12)
    assert again.now.edition == datetime(2031, 3, 12, 5, 45, tzinfo=UTC)
    row = again.now.rows.iloc[1]
    assert (row["alarm_id"], row["headline"], row["act"]) == ("A2", "Ž\n\x07,", True)
    assert row["size_l_s"] == 0.1 + 0.2
    assert row["start"] == pd.Timestamp("2031-03-10")
    assert row["updated_utc"] == pd.Timestamp("2031-03-12 05:45", tz="UTC")
    assert again.before.rows["alarm_id"].tolist() == ["A1"]


def test_nothing_told_is_kept_too(tmp_path: Path) -> None:
    write_registry(tmp_path, Registry(told("a"), None))
    again = read_registry(tmp_path)
    assert again is not None
    assert again.before is None
    assert tuple(again.now.rows.columns) == TOLD.names()
    assert again.now.rows.empty


def test_the_same_data_are_held_against_the_data_before_them() -> None:
    before, now = told("a"), told("b")
    kept = Registry(now, before)
    assert before_of(None, "a") is None
    assert before_of(kept, "b") is before
    assert before_of(kept, "c") is now
    assert before_of(Registry(now, None), "b") is None


@pytest.mark.parametrize("harm", [b"", b"PAR1", None])
def test_what_is_damaged_or_gone_was_never_told(tmp_path: Path, harm: bytes | None) -> None:
    write_registry(tmp_path, Registry(told("a", "A1"), None))
    if harm is None:
        (tmp_path / REGISTRY).unlink()
    else:
        (tmp_path / REGISTRY).write_bytes(harm)
    assert read_registry(tmp_path) is None


def test_a_registry_of_another_form_was_never_told(tmp_path: Path) -> None:
    write_registry(tmp_path, Registry(told("a", "A1"), None))
    table = pq.read_table(tmp_path / REGISTRY)
    said = {k.decode(): v.decode() for k, v in table.schema.metadata.items()}
    pq.write_table(table.replace_schema_metadata(said | {"format": "0"}), tmp_path / REGISTRY)
    assert read_registry(tmp_path) is None
    pq.write_table(table.replace_schema_metadata(said).drop(["match"]), tmp_path / REGISTRY)
    assert read_registry(tmp_path) is None


def test_a_write_that_breaks_off_leaves_the_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_registry(tmp_path, Registry(told("a", "A1"), None))

    def broken(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(pq, "write_table", broken)
        with pytest.raises(KeyboardInterrupt):
            write_registry(tmp_path, Registry(told("b"), None))
    again = read_registry(tmp_path)
    assert again is not None
    assert again.now.mark == "a"
    assert [p.name for p in tmp_path.iterdir()] == [REGISTRY]


def test_it_outlives_the_readings(tmp_path: Path) -> None:
    """Readings that are made anew are no reason to tell everything again."""
    write_registry(tmp_path, Registry(told("a", "A1"), None))
    nothing = Manifest("", (), (), ())
    write_manifest(tmp_path, nothing)
    sweep(tmp_path, None, nothing)
    assert read_registry(tmp_path) is not None
    clear(tmp_path)
    assert read_registry(tmp_path) is not None
