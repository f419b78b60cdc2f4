"""The stages in order, nothing else: what each command of `district.cli` runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import pandas as pd

from district import balance, check, detect, intake, locate, render, simulate, store
from district.errors import Finding, InputError, StageError, StoreError, worst_first
from district.files import write_text
from district.heard import heard_by_loggers, seen_in_the_field
from district.ingest import take_in
from district.network import Network, build_network, edges_with_tanks, map_layers
from district.results import (
    Balance,
    DistrictReport,
    Events,
    Inputs,
    Location,
    Reduced,
)
from district.schema import empty
from district.schema.stored import DEVICE_QUALITY
from district.settings import Settings, read_settings

Say = Callable[[str], None]
"""Told what is being done, for people who wait."""


def _silent(_: str) -> None:
    return None


@dataclass(frozen=True, eq=False)
class Opened:
    """A district folder, read, checked and reduced; every stage begins here."""

    folder: Path
    settings: Settings
    inputs: Inputs
    network: Network
    reduced: Reduced
    findings: tuple[Finding, ...]


def open_folder(folder: Path, *, say: Say = _silent) -> Opened:
    """Read a folder's layers, records and readings; check them; build the network; reduce.

    Readings unchanged since the last run are taken from the folder's store. Raises `InputError`
    with every finding when one of them makes the folder unusable.
    """
    say("reading settings and layers")
    settings = read_settings(folder)
    inputs = intake.read_layers(folder, settings)
    findings = [*inputs.findings, *check.check_tables(inputs, settings=settings)]
    network = None
    if not _unusable(findings):
        say("building the network")
        network = build_network(inputs, settings=settings)
        findings += network.findings
        findings += check.check_network(network, inputs, settings=settings)
    place, reading_findings = _stored(folder, inputs, settings, say)
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
        _stored(folder, inputs, settings, say, anew=True)
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


def _stored(
    folder: Path, inputs: Inputs, settings: Settings, say: Say, *, anew: bool = False
) -> tuple[Path, tuple[Finding, ...]]:
    """Where the readings are kept, up to date, and what is wrong with them."""
    place = store.place(folder)
    digests = store.digests(intake.reading_files(folder, settings))
    mark = store.fingerprint(folder, digests, settings)
    kept = store.read_manifest(place)
    if kept is not None and kept.fingerprint == mark and not anew:
        return place, kept.findings
    say("reading meters and sensors")
    if anew:
        store.clear(place)
    try:
        return place, take_in(
            folder, settings, inputs, place, digests=digests, fingerprint=mark, say=say
        )
    except StoreError:
        if anew:
            raise
        return _stored(folder, inputs, settings, say, anew=True)


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


def init_folder(folder: Path, *, say: Say = _silent) -> intake.Draft:
    """Guess what a folder's files hold and write it into its `district.toml`.

    A file that exists keeps its every byte; what it does not name is added at its end. The draft
    says what was guessed, what was written and what a person must still say. Raises `InputError`
    when the folder holds nothing of use or its `district.toml` cannot be read, `OutputError`.
    """
    say("looking through the folder")
    draft = intake.draft(intake.propose(folder))
    if draft.text:
        write_text(draft.path, draft.text)
    return draft


def check_folder(folder: Path, *, say: Say = _silent) -> tuple[Finding, ...]:
    """Everything wrong with a district folder, worst first; never raises for its contents."""
    return inspect_folder(folder, say=say)[0]


def inspect_folder(folder: Path, *, say: Say = _silent) -> tuple[tuple[Finding, ...], pd.DataFrame]:
    """What `check_folder` finds, and the table DEVICE_QUALITY: what each device's record lacks.

    The table is empty where the folder is unusable.
    """
    try:
        opened = open_folder(folder, say=say)
    except InputError as unusable:
        return unusable.findings, empty(DEVICE_QUALITY)
    return opened.findings, opened.reduced.quality


def balance_folder(
    folder: Path, *, say: Say = _silent, audited: bool = False
) -> tuple[Opened, Balance]:
    """The night and annual balance of every zone, `audited` where what each figure is made of is
    wanted too. Raises `InputError`, `StageError`."""
    opened = open_folder(folder, say=say)
    say("balancing zones")
    found = balance.district_balance(
        opened.network,
        opened.reduced,
        settings=opened.settings,
        works=opened.inputs.works,
        audited=audited,
    )
    if found.nights.empty:
        raise StageError(
            f"{folder}: no zone has a night with inflow and consumption. "
            "Run 'district check' for what is missing."
        )
    return opened, found


def locate_folder(
    folder: Path, *, say: Say = _silent, audited: bool = False, ahead: bool = False
) -> tuple[Opened, Balance, Events, Location]:
    """Leak events and the stretches of pipe to walk; `ahead` where what the next leak would show
    is wanted too. Raises `InputError`, `StageError`."""
    opened, found = balance_folder(folder, say=say, audited=audited)
    say("looking for events")
    events = detect.find_events(
        found.nights,
        opened.reduced.night_flows,
        network=opened.network,
        alarms=opened.reduced.alarms,
        works=opened.inputs.works,
        settings=opened.settings,
        meter_checks=found.meter_checks,
    )
    say("fitting the model of the pipes to the loggers")
    last = found.nights["night"].max().date()
    heard, heard_limit = heard_by_loggers(
        opened.network,
        opened.reduced,
        found.zones,
        events.events,
        place=store.place(folder),
        last=last,
        settings=opened.settings,
    )
    say("locating")
    breaks = opened.inputs.breaks
    location = locate.locate_leaks(
        opened.network,
        breaks,
        found.zones,
        events.events,
        settings=opened.settings,
        year=last.year,
        heard=heard,
        seen=seen_in_the_field(opened.inputs, opened.reduced),
        until=last,
    )
    if heard_limit:
        limits = (*location.basis.limits, heard_limit)
        location = replace(location, basis=replace(location.basis, limits=limits))
    if not ahead:
        return opened, found, events, location
    say("looking ahead to the next leak")
    location = locate.look_ahead(
        location,
        opened.network,
        breaks,
        events.events,
        events.night_noise,
        settings=opened.settings,
        year=last.year,
        heard=heard,
    )
    return opened, found, events, location


def report_folder(folder: Path, *, say: Say = _silent) -> DistrictReport:
    """Everything the pages show. Raises `InputError`, `StageError`."""
    opened, found, events, location = locate_folder(folder, say=say, audited=True, ahead=True)
    return DistrictReport(
        name=opened.settings.district.name,
        currency=opened.settings.district.currency,
        timezone=opened.settings.district.timezone,
        layers=map_layers(opened.network),
        balance=found,
        events=events,
        location=location,
        quality=opened.reduced.quality,
        defaults=opened.inputs.defaults,
        findings=opened.findings,
    )


def write_report(report: DistrictReport, out: Path) -> tuple[Path, ...]:
    """Write the pages, layers, workbook and tables into `out`. Raises `OutputError`."""
    return render.write_pages(report, out)


def write_map(report: DistrictReport, path: Path) -> Path:
    """Write the map alone. Raises `OutputError`."""
    return render.write_map(report, path)


def score_folder(folder: Path, *, say: Say = _silent) -> pd.DataFrame:
    """How the results compare with the folder's `truth.csv`, one row a measure.

    Raises `InputError` (also when the folder has no truth), `StageError`.
    """
    truth, truth_nights = intake.read_truth(folder)
    opened, found, _, location = locate_folder(folder, say=say)
    return simulate.score(
        truth,
        truth_nights,
        nights=found.nights,
        likelihood=location.likelihood,
        stretches=location.stretches,
        pipes=opened.network.pipes,
    )


def simulate_folder(folder: Path, *, seed: int) -> None:
    """Write an invented district, the same from the same seed. Raises `OutputError`."""
    simulate.make_district(folder, seed=seed)
