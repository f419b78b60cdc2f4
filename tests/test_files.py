from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from errno import ENOSPC
from pathlib import Path
from typing import Any

import pytest

from district.errors import BusyError, OutputError
from district.files import only_one, whole_file, whole_folder, write_text


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


@pytest.mark.parametrize("blocker", ["b.txt/deep", "c"])
def test_where_one_file_is_blocked_none_is_written(tmp_path: Path, blocker: str) -> None:
    out = tmp_path / "maps"
    out.mkdir()
    if blocker == "c":
        (out / blocker).write_text("a file where the folder should be")
    else:
        (out / blocker).mkdir(parents=True)
    before = sorted(out.rglob("*"))
    with (  # noqa: PT012
        pytest.raises(OutputError, match=r"of that name is there.* another place with --out"),
        whole_folder(out) as draft,
    ):
        (draft / "a.txt").write_text("a")
        (draft / "b.txt").write_text("b")
        (draft / "c").mkdir()
        (draft / "c" / "d.txt").write_text("d")
    assert sorted(out.rglob("*")) == before
    assert sorted(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("whole", [whole_file, whole_folder])
def test_a_full_disk_is_told(tmp_path: Path, whole: Callable[[Path], Any]) -> None:
    with (
        pytest.raises(OutputError, match=r"No space left.*Make room on that disk"),
        whole(tmp_path / "out"),
    ):
        raise OSError(ENOSPC, "No space left on device")
    assert list(tmp_path.iterdir()) == []


def test_a_loop_of_links_is_replaced(tmp_path: Path) -> None:
    place = tmp_path / "store"
    place.symlink_to(place)
    with whole_folder(place, replace=True) as draft:
        (draft / "new").write_text("new")
    assert [p.name for p in place.iterdir()] == ["new"]


def test_what_a_killed_run_left_is_cleared_a_day_later(tmp_path: Path) -> None:
    stale, fresh = tmp_path / ".district-abcdefgh", tmp_path / ".district-ijklmnop"
    mine = tmp_path / ".district-notes.txt"
    for folder in (stale, fresh):
        folder.mkdir()
        (folder / "half").write_text("half")
    mine.write_text("mine")
    os.utime(stale, (0, 0))
    os.utime(mine, (0, 0))
    write_text(tmp_path / "out.txt", "whole\n")
    assert sorted(tmp_path.iterdir()) == [fresh, mine, tmp_path / "out.txt"]


def test_where_readings_are_kept_no_other_place_is_offered(tmp_path: Path) -> None:
    def fails(errno_of: int, said: str) -> str:
        with pytest.raises(OutputError) as told, whole_folder(tmp_path / ".district/raw/x"):
            raise OSError(errno_of, said)
        return str(told.value).partition(": ")[2]

    assert fails(errno.ENOSPC, "Error writing. Detail: [errno 28]") == (
        "cannot be written (No space left on device). Make room on that disk, and run the command "
        "again."
    )
    assert fails(errno.EIO, "the disk failed") == (
        "cannot be written (the disk failed). Close it in other programs, and run the command "
        "again."
    )


HOLD = """
import sys
from pathlib import Path
from district.files import only_one
with only_one(Path(sys.argv[1]), wait_s=0, waiting=print):
    print("held", flush=True)
    sys.stdin.readline()
"""


def test_a_lock_is_waited_for_and_freed_when_its_holder_is_killed(tmp_path: Path) -> None:
    lock = tmp_path / "folder" / ".lock"
    command = [sys.executable, "-c", HOLD, str(lock)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        waits: list[str] = []
        with (
            pytest.raises(BusyError, match="another run is at work on this folder"),
            only_one(lock, wait_s=0.5, waiting=lambda: waits.append("waits")),
        ):
            pass
        assert waits == ["waits"]
        holder.kill()
        holder.wait()
        with only_one(lock, wait_s=30.0, waiting=lambda: None):
            pass


def test_a_lock_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(OutputError),
        only_one(tmp_path / "file" / ".lock", wait_s=0, waiting=lambda: None),
    ):
        pass
