"""Where readings are kept, and whether they are still those of the folder."""

from __future__ import annotations

import getpass
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path

from district.settings import Settings
from district.words import file_name

STAMP = "stamp.json"
"""Sorts after everything else kept, so that it is moved into place last."""
_FORMAT = 2


def place(folder: Path) -> Path:
    """`.district` in the folder, or a place of the folder's own among temporary files.

    The second where the folder, or what is kept in it, cannot be written to. Nothing is made here.
    """
    kept = folder / ".district"
    usable = os.W_OK | os.R_OK | os.X_OK
    if os.access(folder, usable) and (not kept.exists() or os.access(kept, usable)):
        return kept
    key = hashlib.blake2b(str(folder.resolve()).encode(), digest_size=8).hexdigest()
    return Path(tempfile.gettempdir()) / f"district-{getpass.getuser()}" / key


def fingerprint(folder: Path, files: Iterable[Path], settings: Settings) -> str:
    """A mark of the files' names and contents and of the settings by which they are read.

    Another mark means the stored readings are out of date. Files that are not there count as
    empty.
    """
    mark = hashlib.blake2b(digest_size=16)
    mark.update(f"{version('district')} {_FORMAT} {settings.district.timezone}".encode())
    for part in (settings.layers, settings.records):
        for name, layer in sorted(part.items()):
            mark.update(f"{name} {layer.model_dump_json()}".encode())
    for kind in settings.readings:
        mark.update(kind.model_dump_json().encode())
    for path in sorted(set(files)):
        mark.update(f"\n{file_name(path, folder)}\n".encode())
        if path.is_file():
            with path.open("rb") as file:
                mark.update(hashlib.file_digest(file, "blake2b").digest())
    return mark.hexdigest()


def is_current(place: Path, fingerprint: str) -> bool:
    """Whether `place` holds readings saved whole under that fingerprint."""
    try:
        stamp = json.loads((place / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return bool(isinstance(stamp, dict) and stamp.get("fingerprint") == fingerprint)
