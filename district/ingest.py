"""Reading files into the store: each read once, and only what has changed cleaned anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import pyarrow as pa

from district import intake, store
from district.cleaning import Raw, cleaned_parts
from district.errors import Finding, StoreError
from district.results import FileRead, Inputs
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
    seen: Mapping[str, tuple[str, str]] | None = None,
    go_on: bool = False,
) -> tuple[Finding, ...]:
    """Bring what is kept at `place` up to date with the folder's reading files.

    `digests` are of the files' contents, `seen` is how the files stood there when they were
    looked at (see `store.looks`). A file whose contents and reading have not changed is
    not read again, a part of the devices' records none of whose rows or descriptions have changed
    is not cleaned again. What is kept is changed all at once at the end, and not at all while
    something makes the readings unusable. With `go_on`, a file that nothing can be read from is
    left out with a warning, where others can be read: it may have come half. Then it is kept under
    `without_some(fingerprint)`, so that who wants all files finds it out of date. Returns every
    finding of the readings.
    """
    devices, device_findings = intake.read_devices(inputs, timezone=settings.district.timezone)
    listed, list_findings = intake.reading_list(folder, settings)
    before = store.read_manifest(place)
    files, kept, told = _files(listed, devices, place, digests, say)
    whole = told
    if go_on and any(read.readings_count for read in told):
        told = [_left_out(read) for read in told]
    if told != whole:
        fingerprint = without_some(fingerprint)
    say("cleaning readings")
    try:
        tidy = cleaned_parts(Raw(place, before, tuple(files), kept), devices)
    except (OSError, pa.ArrowException) as reason:
        # Another run may have taken it away just now.
        raise _damaged(place) from reason
    found = [*device_findings, *list_findings, *(f for read in told for f in read.findings)]
    found += tidy.findings
    found += store.changes(place, before, kept, known=devices)
    findings = intake.all_findings(found, tidy.quality, devices, inputs)
    if not any(f.severity == "error" for f in (*inputs.findings, *findings)):
        now = store.Manifest(
            fingerprint,
            kept,
            tidy.parts,
            findings,
            tidy.quality_key,
            tidy.presence_key,
            tidy.seldom,
            seen or {},
        )
        store.write_manifest(place, now)
        store.sweep(place, before, now)
    return findings


def without_some(fingerprint: str) -> str:
    """The mark of the same readings without the files of which nothing can be read."""
    return f"{fingerprint} without some"


def _left_out(read: FileRead) -> FileRead:
    """What a file told that holds no reading: a warning, where it was an error."""
    if read.readings_count or not any(f.severity == "error" for f in read.findings):
        return read
    findings = tuple(
        replace(f, severity="warning", remedy=f"{f.remedy}; until then it is left out")
        if f.severity == "error"
        else f
        for f in read.findings
    )
    return replace(read, findings=findings)


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
    ids = store.key_of("ids", [intake.ids_mark(devices)])
    for file in listed:
        # A file that came in this very moment was not looked at with the others.
        digest = digests.get(file.path) or store.digests([file.path])[file.path]
        written = (digest, file.kind.model_dump_json(exclude={"files"}))
        if written in first:
            told.append(FileRead((_again(file.name, first[written]),)))
            continue
        mark = f"{store.method()}\n{file.mark()}"
        key = store.part_key(digest, f"{mark}\n{ids}")
        read = store.load_part(place, key)
        if read is None:
            say(f"reading {file.name}")
            read = store.write_part(
                place, key, partial(intake.parse, file, devices), mark=f"{mark}\n{ids}"
            )
        if read.readings_count and not read.named_by_file:
            first[written] = file.name
        files.append(replace(file, units=read.units))
        kept.append(store.KeptFile(file.name, digest, mark, key, read.readings_count))
        told.append(read)
    return files, tuple(kept), told


def _damaged(place: Path) -> StoreError:
    return StoreError(
        f"{place}: raw readings kept here are damaged. Delete this folder and run the "
        "command again."
    )


def _again(name: str, first: str) -> Finding:
    return Finding(
        "note",
        name,
        got=f"the same contents as {first}",
        expected="each file once",
        remedy="Nothing need be done; it is used once",
    )
