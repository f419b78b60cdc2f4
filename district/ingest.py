"""Reading files into the store: each read once, and only what has changed cleaned anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

import pandas as pd
import pyarrow as pa

from district import intake, store
from district.errors import Finding, StoreError
from district.results import FileRead, Inputs, Readings
from district.settings import Settings

Say = Callable[[str], None]
"""Told what is being done, for people who wait."""


def take_in(
    folder: Path,
    settings: Settings,
    inputs: Inputs,
    place: Path,
    *,
    digests: Mapping[Path, str],
    fingerprint: str,
    say: Say,
) -> tuple[Finding, ...]:
    """Bring what is kept at `place` up to date with the folder's reading files.

    `digests` are of the files' contents. A file whose contents and reading have not changed is
    not read again, a group of devices none of whose rows or descriptions have changed is not
    cleaned again. What is kept is changed all at once at the end, and not at all while something
    makes the readings unusable. Returns every finding of the readings.
    """
    devices, device_findings = intake.read_devices(inputs, timezone=settings.district.timezone)
    listed, list_findings = intake.reading_list(folder, settings)
    before = store.read_manifest(place)
    files, kept, told = _files(listed, devices, place, digests, say)
    say("cleaning readings")
    groups = _groups(files, kept, devices, place)
    quality = store.joined_quality([quality for _, quality, _ in groups])
    found = [*device_findings, *list_findings, *(f for read in told for f in read.findings)]
    found += [f for _, _, findings in groups for f in findings]
    found += store.changes(place, before, kept)
    findings = intake.all_findings(found, quality, devices, inputs)
    if not any(f.severity == "error" for f in (*inputs.findings, *findings)):
        now = store.Manifest(fingerprint, kept, tuple(key for key, _, _ in groups), findings)
        store.write_manifest(place, now)
        store.sweep(place, before, now)
    return findings


def _files(
    listed: Sequence[intake.ReadingFile],
    devices: Mapping[str, intake.Device],
    place: Path,
    digests: Mapping[Path, str],
    say: Say,
) -> tuple[list[intake.ReadingFile], tuple[store.KeptFile, ...], list[FileRead]]:
    """The files whose rows are used, as they are kept, and what reading all of them told."""
    files: list[intake.ReadingFile] = []
    kept: list[store.KeptFile] = []
    told: list[FileRead] = []
    first: dict[tuple[str, str], str] = {}
    for file in listed:
        digest, mark = digests[file.path], f"{store.method()}\n{file.mark(devices)}"
        key = store.part_key(digest, mark)
        read = store.load_part(place, key)
        if read is None:
            say(f"reading {file.name}")
            read = store.write_part(place, key, partial(intake.parse, file, devices))
        written = (digest, file.kind.model_dump_json(exclude={"files"}))
        if not read.named_by_file and read.rows_count and written in first:
            told.append(FileRead((_again(file.name, first[written]),)))
            continue
        first.setdefault(written, file.name)
        files.append(file)
        kept.append(store.KeptFile(file.name, digest, mark, key, read.rows_count))
        told.append(read)
    return files, tuple(kept), told


def _groups(
    files: Sequence[intake.ReadingFile],
    kept: Sequence[store.KeptFile],
    devices: Mapping[str, intake.Device],
    place: Path,
) -> list[tuple[str, pd.DataFrame, tuple[Finding, ...]]]:
    """Key, quality and findings of every group of devices, cleaned where it was not yet."""
    held = [store.groups_held(place, f.part) for f in kept]
    groups: list[tuple[str, pd.DataFrame, tuple[Finding, ...]]] = []
    for group in range(store.GROUPS):
        own = {i: d for i, d in devices.items() if store.group_of(i) == group}
        at = [n for n, groups_of in enumerate(held) if group in groups_of]
        some = [files[n] for n in at]
        parts = [kept[n].part for n in at]
        said = [store.method(), *map(repr, own.values())]
        said += [f"{f.kind.model_dump_json()} {p}" for f, p in zip(some, parts, strict=True)]
        key = store.group_key(group, said)
        loaded = store.load_group(place, key)
        if loaded is None:
            cleaned = _cleaned(place, parts, group, some, own)
            store.write_group(place, key, cleaned)
            loaded = cleaned.quality, cleaned.findings
        groups.append((key, *loaded))
    return groups


def _cleaned(
    place: Path,
    parts: Sequence[str],
    group: int,
    files: Sequence[intake.ReadingFile],
    devices: Mapping[str, intake.Device],
) -> Readings:
    try:
        raw = store.raw_rows(place, parts, group)
    except (OSError, pa.ArrowException) as reason:
        raise StoreError(
            f"{place}: raw readings kept here are damaged. Delete this folder and run the "
            "command again."
        ) from reason
    return intake.clean(raw, files, devices)


def _again(name: str, first: str) -> Finding:
    return Finding(
        "note",
        name,
        got=f"the same contents as {first}",
        expected="each file once",
        remedy="Nothing need be done; it is used once",
    )
