from __future__ import annotations

from pathlib import Path

import pytest

from district.errors import InputError
from district.intake.propose import propose
from tests.bad_inputs.small_folder import make_folder


def test_a_plain_folder_is_understood_whole(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    (folder / "truth.csv").write_text("what,id\nleak,L1\n")
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    found = propose(folder)
    assert found.tables() == (
        "pipes", "valves", "meters", "zones", "connections", "sensors", "sources", "works",
        "breaks",
    )  # fmt: skip
    assert {g.sureness for g in (*found.layers, *found.records, *found.readings)} == {"sure"}
    assert {(k.pattern, k.layout) for k in found.readings} == {
        ("readings/others.csv", "wide"),
        ("readings/zones.csv", "long"),
    }
    assert found.left_out == ()
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


def test_each_guess_says_why(tmp_path: Path) -> None:
    found = propose(make_folder(tmp_path / "small"))
    assert all(g.why for g in (*found.layers, *found.records, *found.readings))
    assert all(c.why for g in (*found.layers, *found.records) for c in g.columns)


def test_of_two_tables_of_breaks_the_better_is_taken(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "z old bursts.csv").write_text("Date found,Pipe No\n03.02.2019,P3\n04.02.2019,P1\n")
    found = propose(folder)
    assert [g.file for g in found.records] == ["works.csv", "breaks.csv"]
    assert ("z old bursts.csv", "it looks like breaks too") in {
        (one.file, one.why) for one in found.left_out
    }


@pytest.mark.parametrize("files", [{}, {"notes.txt": "buy tea"}, {"a.json": "{}"}])
def test_a_folder_without_anything_of_use_is_one_message(
    tmp_path: Path, files: dict[str, str]
) -> None:
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    with pytest.raises(InputError, match=r"none of use|no file of use") as caught:
        propose(tmp_path)
    assert len(caught.value.lines()) == 1


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        propose(tmp_path / "nowhere")
