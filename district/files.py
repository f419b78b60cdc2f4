"""The only writer: everything goes to a temporary name first and is renamed when whole."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from errno import EACCES, EISDIR, ENOSPC, ENOTDIR
from pathlib import Path

from district.errors import BusyError, OutputError

if sys.platform != "win32":
    import fcntl

KEPT = ".district"
"""Where a district folder's readings are kept."""
_PREFIX = f"{KEPT}-"
_STALE_S = 86_400.0
_TRY_AGAIN_S = 0.2


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a temporary path beside `path`; rename it to `path` if the block ends well.

    Nothing is left behind if the block raises. Raises `OutputError` if the place is unwritable.
    """
    scratch = _scratch(path.parent)
    try:
        draft = scratch / path.name
        yield draft
        _move(draft, path)
    except OSError as reason:
        raise _unwritable(path, reason) from reason
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@contextmanager
def whole_folder(path: Path, *, replace: bool = False) -> Iterator[Path]:
    """Yield an empty temporary folder; move its files into `path` if the block ends well.

    With `replace`, what stood in `path` before is removed first; without, other files stay.
    Where one of the files cannot take its place, none does. Raises `OutputError`.
    """
    scratch = _scratch(path.parent)
    try:
        draft = scratch / path.name
        draft.mkdir()
        yield draft
        if replace:
            with suppress(FileNotFoundError):  # Another run may have taken it away just now.
                path.rename(scratch / "before")
        sources = sorted(p for p in draft.rglob("*") if p.is_file())
        targets = [path / source.relative_to(draft) for source in sources]
        for target in targets:
            _refuse_blocked(target)
        for source, target in zip(sources, targets, strict=True):
            _move(source, target)
    except OSError as reason:
        raise _unwritable(path, reason) from reason
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@contextmanager
def only_one(path: Path, *, wait_s: float, waiting: Callable[[], None]) -> Iterator[None]:
    """Hold the lock file `path` while the block runs, so that no other run does the same.

    Where another holds it, `waiting` is called once and it is waited for, `wait_s` at most; then
    `BusyError` is raised. The system frees the lock when its holder ends, however that came
    about: none is ever left over. Where the disk knows no locks there is nobody to wait for.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        held = path.open("ab")
    except OSError as reason:
        raise _unwritable(path, reason) from reason
    with held:
        until = time.monotonic() + wait_s
        told = False
        while not _locked(held.fileno()):
            if time.monotonic() >= until:
                raise BusyError(
                    f"{path.parent.parent}: another run is at work on this folder. Wait until it "
                    "has ended, and run the command again."
                )
            if not told:
                waiting()
            told = True
            time.sleep(_TRY_AGAIN_S)
        yield


def _locked(descriptor: int) -> bool:
    if sys.platform == "win32":
        return True
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True  # No locks on this disk.
    return True


def write_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 with Unix line ends, whole or not at all."""
    with whole_file(path) as draft:
        draft.write_bytes(text.encode("utf-8"))


def remove(path: Path) -> None:
    """Remove a file or folder of ours, if it is there; what cannot be removed stays."""
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        with suppress(OSError):
            path.unlink(missing_ok=True)


def _scratch(parent: Path) -> Path:
    try:
        parent.mkdir(parents=True, exist_ok=True)
        _clear_stale(parent)
        return Path(tempfile.mkdtemp(prefix=_PREFIX, dir=parent))
    except OSError as reason:
        instead = _instead(parent).capitalize()
        raise OutputError(f"{parent}: cannot write here ({_why(reason)}). {instead}.") from reason


def _clear_stale(parent: Path) -> None:
    """Remove what runs that were killed left behind, a day ago or longer."""
    for left in parent.glob(f"{_PREFIX}????????"):
        with suppress(OSError):  # Another run may be clearing it too.
            if left.is_dir() and time.time() - left.stat().st_mtime > _STALE_S:
                shutil.rmtree(left, ignore_errors=True)


def _refuse_blocked(target: Path) -> None:
    """Raise where a folder stands in the way of the file, or a file in that of its folder."""
    if target.is_dir():
        raise _unwritable(target, IsADirectoryError(EISDIR, "a folder of that name is there"))
    above = next((p for p in target.parents if p.exists()), target.parent)
    if not above.is_dir():
        raise _unwritable(above, NotADirectoryError(ENOTDIR, "a file of that name is there"))
    if not os.access(above, os.W_OK):
        raise _unwritable(target, PermissionError(EACCES, "Permission denied"))


def _move(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    source.replace(target)


def _unwritable(path: Path, reason: OSError) -> OutputError:
    mend = "Make room on that disk" if reason.errno == ENOSPC else "Close it in other programs"
    joined = "and" if KEPT in path.parts else "or"
    return OutputError(
        f"{path}: cannot be written ({_why(reason)}). {mend}, {joined} {_instead(path)}."
    )


def _why(reason: OSError) -> str:
    said = reason.strerror or str(reason)
    # Some libraries have only the number in their words, or a detail of their own.
    bare = said.lower().startswith(("[errno", "error writing"))
    return os.strerror(reason.errno) if reason.errno and bare else said


def _instead(path: Path) -> str:
    # Where readings are kept is not for the user to choose.
    kept = KEPT in path.parts
    return "run the command again" if kept else "choose another place with --out"
