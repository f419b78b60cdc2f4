"""What the store holds at present: one small file, replaced last, so that all of it is whole."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from district.errors import Finding
from district.files import write_text

MANIFEST = "manifest.json"


@dataclass(frozen=True)
class KeptFile:
    """A reading file as it was taken in."""

    name: str
    digest: str
    """Of its contents."""
    mark: str
    """Of how it was read, whatever the devices."""
    part: str
    """Key of its raw rows."""
    readings_count: int


@dataclass(frozen=True)
class Manifest:
    """The files and cleaned groups that together are the store, and what reading them told."""

    fingerprint: str
    files: tuple[KeptFile, ...]
    groups: tuple[str, ...]
    """Keys of the cleaned groups of devices."""
    findings: tuple[Finding, ...]


def write_manifest(place: Path, manifest: Manifest) -> None:
    """Make this what the store holds. Raises `OutputError`."""
    write_text(place / MANIFEST, json.dumps(asdict(manifest), ensure_ascii=False, indent=0))


def read_manifest(place: Path) -> Manifest | None:
    """What the store holds; None where there is none, or none that can be read."""
    try:
        said = json.loads((place / MANIFEST).read_text(encoding="utf-8"))
        return Manifest(
            str(said["fingerprint"]),
            tuple(KeptFile(**f) for f in said["files"]),
            tuple(said["groups"]),
            tuple(Finding(**f) for f in said["findings"]),
        )
    except (OSError, ValueError, TypeError, KeyError):
        return None
