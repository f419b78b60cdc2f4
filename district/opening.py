"""A district folder opened: read, checked, built into a network, its readings reduced.

What every stage begins with. Between the pipeline and the rooms it calls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pandas as pd

from district import check, intake, store
from district.errors import Finding, InputError, StoreError, worst_first
from district.ingest import take_in, without_some
from district.network import Network, build_network, edges_with_tanks
from district.results import Inputs, Reduced
from district.settings import Settings, read_settings

Say = Callable[[str], None]
"""Told what is being done, for people who wait."""


def silent(_: str) -> None:
    """For whom nobody waits."""


@dataclass(frozen=True, eq=False)
class Opened:
    """A district folder, read, checked and reduced; every stage begins here."""

    folder: Path
    settings: Settings
    inputs: Inputs
    network: Network
    reduced: Reduced
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Mapped:
    """The layers and records of a folder, read and checked, and the network; no readings."""

    settings: Settings
    inputs: Inputs
    network: Network
    findings: tuple[Finding, ...]


def open_map(folder: Path, *, say: Say = silent) -> Mapped:
    """Read a folder's layers and records, check them, build the network; readings are left alone.

    Raises `InputError` with every finding when one of them makes the map unusable.
    """
    settings, inputs, network, findings = _mapped(folder, say)
    if network is None or _unusable(findings):
        raise InputError(findings)
    return Mapped(settings, inputs, network, worst_first(findings))


def open_folder(folder: Path, *, say: Say = silent, go_on: bool = False) -> Opened:
    """Read a folder's layers, records and readings; check them; build the network; reduce.

    Readings unchanged since the last run are taken from the folder's store. With `go_on`, a
    reading file of which nothing can be read is left out with a warning. Raises `InputError`
    with every finding when one of them makes the folder unusable.
    """
    settings, inputs, network, findings = _mapped(folder, say)
    place, reading_findings = _stored(folder, inputs, settings, say, go_on=go_on)
    findings += reading_findings
    if network is None or _unusable(findings):
        raise InputError(findings)
    say("reducing readings to nights and days")
    wanted = partial(
        store.reduce,
        settings=settings,
        boundaries=_edges(network),
        users=_user_meters(network),
    )
    try:
        reduced = wanted(place)
    except StoreError:
        # Damaged, or taken away by another run: the files themselves are still there.
        _stored(folder, inputs, settings, say, anew=True, go_on=go_on)
        reduced = wanted(place)
    findings += check.check_coverage(
        reduced.quality,
        reduced.night_flows,
        reduced.daily_volumes,
        network=network,
        settings=settings,
    )
    findings += check.check_dates(inputs, reduced.quality, settings=settings)
    if _unusable(findings):
        raise InputError(findings)
    return Opened(folder, settings, inputs, network, reduced, worst_first(findings))


def _mapped(folder: Path, say: Say) -> tuple[Settings, Inputs, Network | None, list[Finding]]:
    """Settings, inputs, the network where it can be built, and what was found up to there."""
    say("reading settings and layers")
    settings = read_settings(folder)
    inputs = intake.read_layers(folder, settings)
    findings = [*inputs.findings, *check.check_tables(inputs, settings=settings)]
    for form in intake.each_form(inputs, settings):
        findings += check.check_form(form, settings=settings)
    findings += check.check_valve_states(inputs, settings=settings)
    inputs, told_twice = intake.with_entries(inputs, settings)
    findings += told_twice
    network = None
    if not _unusable(findings):
        say("building the network")
        network = build_network(inputs, settings=settings)
        findings += network.findings
        findings += check.check_network(network, inputs, settings=settings)
    return settings, inputs, network, findings


def _stored(
    folder: Path,
    inputs: Inputs,
    settings: Settings,
    say: Say,
    *,
    anew: bool = False,
    go_on: bool = False,
) -> tuple[Path, tuple[Finding, ...]]:
    """Where the readings are kept, up to date, and what is wrong with them."""
    place = store.place(folder)
    kept = store.read_manifest(place)
    known = kept.seen if kept is not None else {}
    looks = store.looks(intake.reading_files(folder, settings), folder, known)
    digests = {path: look.digest for path, look in looks.items()}
    mark = store.fingerprint(folder, digests, settings)
    marks = (mark, without_some(mark)) if go_on else (mark,)
    if kept is not None and kept.fingerprint in marks and not anew:
        return place, kept.findings
    say("reading meters and sensors")
    if anew:
        store.clear(place)
    try:
        return place, take_in(
            folder,
            settings,
            inputs,
            place,
            digests=digests,
            fingerprint=mark,
            say=say,
            seen=store.seen(looks, folder),
            go_on=go_on,
        )
    except StoreError:
        if anew:
            raise
        return _stored(folder, inputs, settings, say, anew=True, go_on=go_on)


def _edges(network: Network) -> pd.DataFrame:
    """The meters between cells, tanks among them; a cell with a source is none: no balance."""
    with_source = network.cells.index[network.cells["has_source"].astype(bool)]
    sides = ["upstream_cell_id", "downstream_cell_id"]
    edges = edges_with_tanks(network).copy()
    edges[sides] = edges[sides].where(~edges[sides].isin(with_source), "")
    return edges


def _user_meters(network: Network) -> pd.DataFrame:
    """device_id and cell_id of the meters of connections, each pair once."""
    named = network.connections[["meter_id", "cell_id"]].rename(columns={"meter_id": "device_id"})
    known = named.notna().all(axis=1) & (named != "").all(axis=1)
    return pd.DataFrame(named[known].drop_duplicates(ignore_index=True))


def _unusable(findings: list[Finding]) -> bool:
    return any(f.severity == "error" for f in findings)
