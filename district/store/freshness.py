"""Where readings are kept, and whether they are still those of the folder."""

from __future__ import annotations

import getpass
import hashlib
import os
import tempfile
import time
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from district.files import KEPT
from district.schema.kept import KEPT as KEPT_TABLES
from district.schema.stored import DEVICE_QUALITY, INTERVALS, RAW, SAMPLES
from district.settings import Settings
from district.words import file_name

_FORMAT = 7
_SAFE_NS = 2_000_000_000
_TABLES = (RAW, INTERVALS, SAMPLES, DEVICE_QUALITY, *KEPT_TABLES)
"""What is kept beside reductions, which are kept by what they were made of."""


def place(folder: Path) -> Path:
    """`.district` in the folder, or a place of the folder's own among temporary files.

    The second where the folder, or what is kept in it, cannot be written to. Nothing is made here.
    """
    kept = folder / KEPT
    usable = os.W_OK | os.R_OK | os.X_OK
    if os.access(folder, usable) and (not os.path.lexists(kept) or os.access(kept, usable)):
        return kept
    key = hashlib.blake2b(os.fsencode(folder.resolve()), digest_size=8).hexdigest()
    return Path(tempfile.gettempdir()) / f"district-{_user()}" / key


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        # A container may run as a number that has no name.
        return str(os.getuid())


def digests(files: Iterable[Path]) -> dict[Path, str]:
    """A mark of each file's contents; files not there, or not to be read, count as empty."""
    marks: dict[Path, str] = {}
    for path in sorted(set(files)):
        marks[path] = ""
        # What may not be read is told by who needs it.
        with suppress(OSError), path.open("rb") as file:
            marks[path] = hashlib.file_digest(file, "blake2b").hexdigest()[:32]
    return marks


@dataclass(frozen=True)
class Look:
    """A file as it was found."""

    digest: str
    """Of its contents; '' of a file not there, or not to be read."""
    stamp: str
    """How it stood there: size, times and place on the disk. '' where that may hide a change."""


def looks(
    files: Iterable[Path], folder: Path, known: Mapping[str, tuple[str, str]]
) -> dict[Path, Look]:
    """Each file's contents, those not hashed that stand there as they did when they were.

    `known` has stamp and digest by name, as an earlier look found them. A stamp holds the times
    at which contents and entry were last changed; a file changed at the very time it is hashed
    may show the same stamp before and after. So a stamp counts only if both times lie two
    seconds or more (the coarsest clock of file systems in use) before the look began, and if it
    is the same when the hashing is done.
    """
    found: dict[Path, Look] = {}
    for path in sorted(set(files)):
        stamp = _stamp(path)
        then, digest = known.get(file_name(path, folder), ("", ""))
        if not stamp or stamp != then:
            digest = digests([path])[path]
            stamp = stamp if stamp == _stamp(path) else ""
        found[path] = Look(digest, stamp)
    return found


def seen(looks: Mapping[Path, Look], folder: Path) -> dict[str, tuple[str, str]]:
    """What a later look needs to know of this one: stamp and digest by name."""
    return {file_name(p, folder): (x.stamp, x.digest) for p, x in looks.items() if x.stamp}


def _stamp(path: Path) -> str:
    now = time.time_ns()
    try:
        at = path.stat()
    except OSError:
        return ""
    if max(at.st_mtime_ns, at.st_ctime_ns) > now - _SAFE_NS:
        return ""
    return f"{at.st_size} {at.st_mtime_ns} {at.st_ctime_ns} {at.st_dev} {at.st_ino}"


def fingerprint(folder: Path, digests: Mapping[Path, str], settings: Settings) -> str:
    """A mark of the files' names and contents and of the settings by which they are read.

    Another mark means the stored readings are out of date.
    """
    mark = hashlib.blake2b(digest_size=16)
    mark.update(f"{method()} {settings.district.timezone}".encode())
    for part in (settings.layers, settings.records):
        for name, layer in sorted(part.items()):
            mark.update(f"{name} {layer.model_dump_json()}".encode())
    for kind in settings.readings:
        mark.update(kind.model_dump_json().encode())
    for path, digest in sorted(digests.items()):
        mark.update(f"\n{file_name(path, folder)} {digest}".encode())
    return mark.hexdigest()


def method() -> str:
    """A mark of how this version reads and keeps; what another version kept is made anew."""
    tables = hashlib.blake2b(repr(_TABLES).encode(), digest_size=8).hexdigest()
    return f"{version('district')} {_FORMAT} {tables}"
