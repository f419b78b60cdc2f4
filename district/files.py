"""The only writer: everything goes to a temporary name first and is renamed when whole."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from district.errors import OutputError


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
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@contextmanager
def whole_folder(path: Path, *, replace: bool = False) -> Iterator[Path]:
    """Yield an empty temporary folder; move its files into `path` if the block ends well.

    With `replace`, what stood in `path` before is removed first; without, other files stay.
    """
    scratch = _scratch(path.parent)
    try:
        draft = scratch / path.name
        draft.mkdir()
        yield draft
        if replace and path.exists():
            path.rename(scratch / "before")
        for source in sorted(p for p in draft.rglob("*") if p.is_file()):
            _move(source, path / source.relative_to(draft))
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def write_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 with Unix line ends, whole or not at all."""
    with whole_file(path) as draft:
        draft.write_bytes(text.encode("utf-8"))


def _scratch(parent: Path) -> Path:
    try:
        parent.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=".district-", dir=parent))
    except OSError as reason:
        raise OutputError(
            f"{parent}: cannot write here ({reason.strerror}). Choose another place with --out."
        ) from reason


def _move(source: Path, target: Path) -> None:
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        source.replace(target)
    except OSError as reason:
        raise OutputError(
            f"{target}: cannot be written ({reason.strerror}). Close it in other programs, "
            "or choose another place with --out."
        ) from reason
