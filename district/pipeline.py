"""The stages in order, nothing else: what each command of `district.cli` runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd

from district import balance, intake, ledger, locate, render, simulate, store
from district.afterwards import breaks_known, ledger_found, repairs_verified
from district.errors import Finding, InputError, StageError
from district.files import write_text
from district.happened import events_found, shut_off_found
from district.heard import heard_by_loggers, seen_in_the_field
from district.network import map_layers
from district.opening import Opened, Say, open_folder, silent
from district.results import Balance, DistrictReport, Events, Ledger, Location, ShutOff
from district.schema import empty
from district.schema.stored import DEVICE_QUALITY
from district.shutting import valves_of
from district.watching import Watched, watched
from district.words import plural


def init_folder(folder: Path, *, say: Say = silent) -> intake.Draft:
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


def check_folder(folder: Path, *, say: Say = silent) -> tuple[Finding, ...]:
    """Everything wrong with a district folder, worst first; never raises for its contents."""
    return inspect_folder(folder, say=say)[0]


def inspect_folder(folder: Path, *, say: Say = silent) -> tuple[tuple[Finding, ...], pd.DataFrame]:
    """What `check_folder` finds, and the table DEVICE_QUALITY: what each device's record lacks.

    The table is empty where the folder is unusable.
    """
    try:
        opened = open_folder(folder, say=say)
    except InputError as unusable:
        return unusable.findings, empty(DEVICE_QUALITY)
    return opened.findings, opened.reduced.quality


def balance_folder(
    folder: Path,
    *,
    say: Say = silent,
    audited: bool = False,
    nightly: bool = False,
    go_on: bool = False,
) -> tuple[Opened, Balance]:
    """The night and annual balance of every zone, `audited` where what each figure is made of is
    wanted too, `nightly` where only what tells events is; `go_on` as in `open_folder`. Raises
    `InputError`, `StageError`."""
    opened = open_folder(folder, say=say, go_on=go_on)
    say("balancing zones")
    found = balance.district_balance(
        opened.network,
        opened.reduced,
        settings=opened.settings,
        works=opened.inputs.works,
        audited=audited,
        nightly=nightly,
    )
    if found.nights.empty:
        raise StageError(
            f"{folder}: no zone has a night with inflow and consumption. "
            "Run 'district check' for what is missing."
        )
    return opened, found


def _events(opened: Opened, found: Balance, say: Say) -> Events:
    say("looking for events")
    return events_found(
        opened.network,
        opened.reduced,
        found,
        works=opened.inputs.works,
        place=store.place(opened.folder),
        settings=opened.settings,
    )


def events_folder(folder: Path, *, say: Say = silent) -> tuple[Opened, Balance, Events]:
    """What began in zones and buildings, what repairs did, what building meters and alarm sensors
    show. Raises `InputError`, `StageError`."""
    opened, found = balance_folder(folder, say=say, nightly=True)
    return opened, found, _events(opened, found, say)


def locate_folder(
    folder: Path,
    *,
    say: Say = silent,
    audited: bool = False,
    ahead: bool = False,
    go_on: bool = False,
) -> tuple[Opened, Balance, Events, Location]:
    """Leak events and the stretches of pipe to walk; `ahead` where what the next leak would show
    is wanted too. Raises `InputError`, `StageError`."""
    opened, found = balance_folder(folder, say=say, audited=audited, go_on=go_on)
    events = _events(opened, found, say)
    return opened, found, events, _located(opened, found, events, say, ahead=ahead)


def _located(
    opened: Opened, found: Balance, events: Events, say: Say, *, ahead: bool = False
) -> Location:
    network, settings = opened.network, opened.settings
    say("fitting the model of the pipes to the loggers")
    last = found.nights["night"].max().date()
    heard, heard_limit = heard_by_loggers(
        network,
        opened.reduced,
        found.zones,
        events.events,
        place=store.place(opened.folder),
        last=last,
        settings=settings,
    )
    say("locating")
    breaks = breaks_known(opened.inputs, network, events, settings)
    location = locate.locate_leaks(
        network,
        breaks,
        found.zones,
        events.events,
        settings=settings,
        year=last.year,
        heard=heard,
        seen=seen_in_the_field(opened.inputs, opened.reduced),
        until=last,
    )
    basis = location.basis
    if heard_limit:
        basis = replace(basis, limits=(*basis.limits, heard_limit))
    if added := len(breaks) - len(opened.inputs.breaks):
        counted = f"{plural(added, 'repaired leak')} on record counted among the breaks."
        basis = replace(basis, assumptions=(*basis.assumptions, counted))
    location = replace(location, basis=basis)
    if not ahead:
        return location
    say("looking ahead to the next leak")
    return locate.look_ahead(
        location,
        network,
        breaks,
        events.events,
        events.night_noise,
        settings=settings,
        year=last.year,
        heard=heard,
    )


def verify_folder(
    folder: Path, *, since: date | None = None, say: Say = silent
) -> tuple[Opened, Balance, Ledger]:
    """Whether each repair on record since then closed its job, or where a crew goes back to. Raises
    `InputError`, `StageError`."""
    opened, found, events = events_folder(folder, say=say)
    say("verifying repairs")
    of = (opened.inputs, opened.network, events, opened.settings)
    told = repairs_verified(*of, since=since)
    if (told.verifications["sought_ids"] != "").any():
        location = _located(opened, found, events, say)
        sets, stretches = location.search_sets, location.stretches
        told = replace(told, verifications=ledger.with_walks(told.verifications, sets, stretches))
    return opened, found, told


def ledger_folder(folder: Path, *, say: Say = silent) -> tuple[Opened, Balance, Ledger]:
    """Every leak found or told of, and every year of them. Raises `InputError`, `StageError`."""
    opened, found, events = events_folder(folder, say=say)
    return opened, found, ledger_found(opened.inputs, opened.network, events, opened.settings)


def shutoff_folder(folder: Path, *, say: Say = silent) -> tuple[Opened, ShutOff]:
    """When valves that shut buildings by themselves should trip. Raises `InputError`,
    `StageError`."""
    opened, _, events = events_folder(folder, say=say)
    return opened, _shut_off(opened, events, say)


def _shut_off(opened: Opened, events: Events, say: Say) -> ShutOff:
    say("replaying the flows of buildings")
    return shut_off_found(
        opened.network,
        opened.reduced,
        events,
        works=opened.inputs.works,
        place=store.place(opened.folder),
        settings=opened.settings,
    )


def watch_folder(
    folder: Path, out: Path, *, say: Say = silent, with_report: bool = False
) -> Watched:
    """What is new in a folder since the data before, written into `out`; `remember_morning` once
    it was told. With `with_report` report, map and workbook are written too.

    A reading file of which nothing can be read is left out with a warning. Raises `InputError`,
    `StageError`, `OutputError`.
    """
    if with_report:
        parts = locate_folder(folder, say=say, audited=True, ahead=True, go_on=True)
        opened, found, events, _ = parts
        say("writing the pages")
        write_report(_report(*parts, say=say), out)
    else:
        opened, found = balance_folder(folder, say=say, nightly=True, go_on=True)
        events = _events(opened, found, say)
    say("holding it against what was told before")
    return watched(opened, found, events, out)


def report_folder(folder: Path, *, say: Say = silent) -> DistrictReport:
    """Everything the pages show. Raises `InputError`, `StageError`."""
    return _report(*locate_folder(folder, say=say, audited=True, ahead=True), say=say)


def _report(
    opened: Opened, found: Balance, events: Events, location: Location, *, say: Say
) -> DistrictReport:
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
        shut_off=_shut_off(opened, events, say),
        isolation=valves_of(opened.network, opened.inputs.entries, settings=opened.settings),
    )


def write_report(report: DistrictReport, out: Path) -> tuple[Path, ...]:
    """Write the pages, layers, workbook and tables into `out`. Raises `OutputError`."""
    return render.write_pages(report, out)


def write_ledger(found: Ledger, year: int, out: Path) -> tuple[Path, ...]:
    """Write the page of one year and the tables of all into `out`. Raises `OutputError`."""
    return render.write_ledger(found, year, out)


def write_map(report: DistrictReport, path: Path) -> Path:
    """Write the map alone. Raises `OutputError`."""
    return render.write_map(report, path)


def score_folder(folder: Path, *, say: Say = silent) -> pd.DataFrame:
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
