"""What the store holds at present: one small file, replaced last, so that all of it is whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from district.errors import Finding
from district.files import write_text
from district.schema.thirds import month_span_us, months_of

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
class KeptPart:
    """Cleaned readings of a group of devices: what ends, or was seen, in a third of a month.

    Of devices read seldom, what ends in a month.
    """

    group: int
    month: str
    """YYYY-MM, UTC, in which its intervals end; they may begin long before."""
    key: str
    """Name under which it is kept; another key means other contents."""
    first_us: int
    last_us: int
    """First start and last end of its intervals and samples, µs since 1970, UTC."""


@dataclass(frozen=True)
class Manifest:
    """The files and cleaned parts that together are the store, and what reading them told."""

    fingerprint: str
    files: tuple[KeptFile, ...]
    parts: tuple[KeptPart, ...]
    findings: tuple[Finding, ...]
    quality: str = ""
    """Key of the table DEVICE_QUALITY of all devices."""
    presence: str = ""
    """Key of the list of which devices were read when."""
    seldom: Mapping[str, tuple[KeptPart, ...]] = field(default_factory=dict)
    """Parts of devices read seldom (among `parts` too) by the key of all that they depend on."""
    seen: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    """Name of a file -> how it stood there when it was last hashed, and the digest."""


def kept_months(manifest: Manifest) -> list[str]:
    """Every month (YYYY-MM, UTC) that stored intervals or samples touch, in order."""
    found = {m for p in manifest.parts for m in months_of(p.first_us, p.last_us)}
    return sorted(found)


def parts_of(manifest: Manifest, month: str) -> list[KeptPart]:
    """The parts with intervals or samples that touch a month (YYYY-MM, UTC)."""
    first_us, next_us = month_span_us(month)
    return parts_between(manifest.parts, first_us, next_us)


def parts_between(parts: Iterable[KeptPart], from_us: int, to_us: int) -> list[KeptPart]:
    """Those of the parts with intervals or samples that touch a span (µs since 1970, UTC)."""
    return [p for p in parts if p.first_us < to_us and p.last_us >= from_us]


def month_key(manifest: Manifest, month: str) -> str:
    """A mark of all that is stored of a month: it changes when anything of that may have."""
    keys = sorted(p.key for p in parts_of(manifest, month))
    return hashlib.blake2b("\n".join(keys).encode(), digest_size=16).hexdigest()


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
            tuple(KeptPart(**p) for p in said["parts"]),
            tuple(Finding(**f) for f in said["findings"]),
            str(said["quality"]),
            str(said["presence"]),
            {k: tuple(KeptPart(**p) for p in parts) for k, parts in said["seldom"].items()},
            {name: (str(a), str(b)) for name, (a, b) in said["seen"].items()},
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
