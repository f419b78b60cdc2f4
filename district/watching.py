"""A morning: what happened, held against what was told with the data before, and remembered.

Between the pipeline and the stages; the registry of what was told is kept with the readings.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from importlib.metadata import version
from pathlib import Path

import pandas as pd

from district import intake, render, store, watch
from district.errors import StageError
from district.files import only_one
from district.opening import Opened, Say
from district.results import Balance, Basis, Events, Morning
from district.settings import FILE, Settings

WAIT_S = 600.0
"""Another run on the same folder is waited for so long."""
_LOCK = ".watch.lock"
_FORMAT = 1
"""Raised where the same data would be told otherwise than before."""


@dataclass(frozen=True, eq=False)
class Watched:
    """A morning, the files it was written to, and what is to be remembered once it was told."""

    morning: Morning
    paths: tuple[Path, ...]
    place: Path
    registry: store.Registry


@contextmanager
def alone(folder: Path, *, say: Say, wait_s: float = WAIT_S) -> Iterator[None]:
    """While the block runs no other run tells what is new in `folder`.

    Raises `BusyError` where another does for longer than `wait_s`. A folder that is none of ours
    is left to whoever opens it.
    """
    if not (folder / FILE).exists():
        yield
        return
    lock = store.place(folder) / _LOCK
    with only_one(lock, wait_s=wait_s, waiting=lambda: say("waiting for another run to end")):
        yield


def morning_of(opened: Opened, balance: Balance, events: Events) -> tuple[Morning, store.Registry]:
    """What to know with the data of `opened`, and what is to be remembered of it.

    New is what was not told with the data before: however often the same data are run, the same
    is told. Raises `StageError` where nothing was ever read.
    """
    quality, settings = opened.reduced.quality, opened.settings
    latest = watch.latest_reading(quality)
    if latest is None:
        raise StageError(f"{opened.folder}: no meter or sensor has a reading.")
    last = pd.Timestamp(balance.nights["night"].max()).date()
    place = store.place(opened.folder)
    mark = _mark(opened.folder, place, settings)
    kept = store.read_registry(place)
    before = store.before_of(kept, mark)
    places = watch.watched_places(opened.network, balance.nights, quality)
    silent = watch.silent_devices(quality, places, latest=latest, clock=settings.zone_info())
    now = watch.alarms_now(events, silent, places, last=last, currency=settings.district.currency)
    edition = latest.to_pydatetime()
    if before is not None and edition <= before.edition:
        # Readers of a feed tell editions apart by this instant alone.
        edition = before.edition + timedelta(seconds=1)
    morning, told = watch.compare(
        None if before is None else before.rows,
        now,
        places,
        last=last,
        edition_utc=pd.Timestamp(edition),
    )
    found = Morning(
        name=settings.district.name,
        currency=settings.district.currency,
        timezone=settings.district.timezone,
        morning=morning,
        events=events,
        basis=_basis(balance, events, last),
        findings=opened.findings,
        told=told,
        before=None if before is None else before.last,
        readings_to=latest.to_pydatetime(),
        edition=edition,
    )
    return found, store.Registry(store.Told(mark, last, edition, told), before)


def watched(opened: Opened, balance: Balance, events: Events, out: Path) -> Watched:
    """The morning, written into `out`; nothing is remembered yet. Raises `OutputError`."""
    morning, registry = morning_of(opened, balance, events)
    paths = render.write_morning(morning, out)
    return Watched(morning, paths, store.place(opened.folder), registry)


def remember(told: Watched) -> None:
    """Remember what was told, last of all: a run that broke off before tells it again.

    Raises `OutputError`.
    """
    store.write_registry(told.place, told.registry)


def _mark(folder: Path, place: Path, settings: Settings) -> str:
    """A mark of all that the morning rests on: readings, layers, records, settings, version."""
    manifest = store.read_manifest(place)
    mark = hashlib.blake2b(digest_size=16)
    mark.update(f"{version('district')} {_FORMAT} {settings.model_dump_json()}".encode())
    mark.update(f"\n{manifest.fingerprint if manifest else ''}".encode())
    for path, digest in store.digests(intake.described_by(folder, settings)).items():
        mark.update(f"\n{path.name} {digest}".encode())
    return mark.hexdigest()


def _basis(balance: Balance, events: Events, last: date) -> Basis:
    """What events rest on, and what bounds them; the balance's own limits are told with it."""
    found = events.basis
    first = balance.nights["night"].min()
    return Basis(
        first=found.first or pd.Timestamp(first).date(),
        last=last,
        meters=found.meters,
        assumptions=found.assumptions,
        limits=found.limits,
    )
