from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from district.results import FileRead
from district.store import KeptFile, Manifest, changes, write_part
from tests.store.test_raw import piece

KNOWN = {f"M{n}" for n in range(1, 5)}


def kept(place: Path, key: str, rows: pd.DataFrame, name: str = "a.csv") -> KeptFile:
    def read(sink: object) -> FileRead:
        sink(rows)  # type: ignore[operator]
        return FileRead(readings_count=len(rows))

    write_part(place, key, read)
    return KeptFile(name, key, "mark", key, len(rows))


def before(*files: KeptFile) -> Manifest:
    return Manifest("", files, (), ())


def test_a_corrected_value_is_told(tmp_path: Path) -> None:
    old = piece(["M1", "M2", "M3"], 2)
    new = pd.concat([old, piece(["M4"], 5)]).assign(value=[0.0, 7.0, 2.0, 3.0])[1:]
    new["device_id"] = pd.Categorical(new["device_id"], old["device_id"].cat.categories)
    first, second = kept(tmp_path, "old", old), kept(tmp_path, "new", new)
    (finding,) = changes(tmp_path, before(first), (second,), known=KNOWN)
    assert finding.sentence() == (
        "a.csv, devices M1 and M2: got 1 reading with another value, 1 reading no longer there, "
        "1 reading new since it was last read, expected what it said before, and more. Nothing "
        "need be done if that was meant; the file is used as it is now."
    )


def test_a_file_that_only_grew_is_not_told(tmp_path: Path) -> None:
    old, new = piece(["M1"], 2), piece(["M1", "M1"], 2)
    files = kept(tmp_path, "old", old), kept(tmp_path, "new", new)
    assert changes(tmp_path, before(files[0]), files[1:], known=KNOWN) == []
    assert changes(tmp_path, None, files, known=KNOWN) == []


def test_a_file_that_is_gone_is_told_but_not_one_renamed(tmp_path: Path) -> None:
    old = kept(tmp_path, "old", piece(["M1", "M2"], 2))
    (finding,) = changes(tmp_path, before(old), (), known=KNOWN)
    assert finding.got == "no such file any more; it held 2 readings"
    renamed = KeptFile("b.csv", old.digest, "other", "b", 2)
    assert changes(tmp_path, before(old), (renamed,), known=KNOWN) == []


@pytest.mark.parametrize("fault", ["other settings", "old rows gone"])
def test_what_cannot_be_compared_is_not(tmp_path: Path, fault: str) -> None:
    old = kept(tmp_path, "old", piece(["M1"], 2))
    new = kept(tmp_path, "new", piece(["M1"], 2).assign(value=9.0))
    assert len(changes(tmp_path, before(old), (new,), known=KNOWN)) == 1
    if fault == "other settings":
        new = KeptFile(new.name, new.digest, "other", new.part, 1)
    else:
        (tmp_path / "raw/old/rows.parquet").unlink()
    assert changes(tmp_path, before(old), (new,), known=KNOWN) == []


def test_a_device_that_was_taken_off_its_layer_is_not_missed(tmp_path: Path) -> None:
    old = kept(tmp_path, "old", piece(["M1", "M2"], 2))
    new = kept(tmp_path, "new", piece(["M1"], 2).assign(value=9.0))
    (finding,) = changes(tmp_path, before(old), (new,), known={"M1"})
    assert (finding.place, finding.got) == (
        "device M1",
        "1 reading with another value since it was last read",
    )


def test_a_corrected_rate_is_told(tmp_path: Path) -> None:
    old = kept(tmp_path, "old", piece(["M1", "M2"], 2).assign(rate=1.0))
    new = kept(tmp_path, "new", piece(["M1", "M2"], 2).assign(rate=[1.0, 2.0]))
    (finding,) = changes(tmp_path, before(old), (new,), known=KNOWN)
    assert finding.place == "device M2"


def test_a_change_that_leaves_nothing_to_compare_is_not_told(tmp_path: Path) -> None:
    old = kept(tmp_path, "old", piece(["M1"], 2))
    again = kept(tmp_path, "new", piece(["M1"], 2))
    assert changes(tmp_path, before(old), (again,), known=KNOWN) == []
