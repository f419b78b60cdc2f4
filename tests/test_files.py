from __future__ import annotations

from pathlib import Path

import pytest

from district.errors import OutputError
from district.files import whole_file, whole_folder, write_text


def test_a_file_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "out.txt"
    with pytest.raises(RuntimeError), whole_file(target) as draft:  # noqa: PT012
        draft.write_text("half")
        raise RuntimeError
    assert not target.exists()
    assert list(target.parent.iterdir()) == []
    write_text(target, "whole\n")
    assert target.read_bytes() == b"whole\n"


def test_a_folder_keeps_what_else_stands_there(tmp_path: Path) -> None:
    out = tmp_path / "maps"
    out.mkdir()
    (out / "mine.txt").write_text("mine")
    with whole_folder(out) as draft:
        (draft / "tables").mkdir()
        (draft / "tables" / "a.csv").write_text("x")
    assert sorted(p.name for p in out.rglob("*")) == ["a.csv", "mine.txt", "tables"]


def test_a_replaced_folder_does_not(tmp_path: Path) -> None:
    out = tmp_path / "store"
    out.mkdir()
    (out / "old").write_text("old")
    with whole_folder(out, replace=True) as draft:
        (draft / "new").write_text("new")
    assert [p.name for p in out.iterdir()] == ["new"]


def test_nothing_is_left_when_a_folder_fails(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), whole_folder(tmp_path / "maps") as draft:  # noqa: PT012
        (draft / "half").write_text("half")
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []


def test_an_unwritable_place_is_told(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(OutputError, match="cannot write here"), whole_file(blocked / "x.txt"):
        pass
