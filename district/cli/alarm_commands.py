"""The commands of what began: all events, what is new this morning, when valves should shut."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import click

from district import pipeline, watching
from district.cli import machine, say_events, say_morning, shutoff_tables
from district.cli.options import FOLDER, JSON, OUT, TO_ACT_ON, print_object, told
from district.render import alarms_json

WATCH_EPILOG = """\
\b
Run it from a scheduler, each morning after the readings have come in:
  15 6 * * *  district watch /data/estate --out /srv/estate --only-new

What is new is told against the data before, not the run before: on the same data it says the same,
after a run that broke off too. An alarm keeps its id though its start or size is revised; that is
no news. Another run on the same folder is waited for.

Exit status: 0 nothing to act on, 3 something to act on, 2 input that cannot be used. With
--only-new a scheduler that mails on a status other than 0 mails only on news.
"""


@click.command()
@FOLDER
@JSON
def events(folder: Path, as_json: bool) -> None:
    """What began, when, how large, what it likely is; repairs, buildings, alarm sensors."""
    with told(as_json) as progress:
        opened, found, happened = pipeline.events_folder(folder, say=progress)
    if as_json:
        print_object(machine.tables_object(machine.event_tables(happened), happened.basis))
    else:
        say_events.print_events(happened, found.zones, opened.settings)
    sys.exit(TO_ACT_ON if say_events.to_act_on(happened) else 0)


@click.command()
@FOLDER
@JSON
def shutoff(folder: Path, as_json: bool) -> None:
    """At which flow, and after how long, a building's automatic valve should shut."""
    with told(as_json) as progress:
        _, found = pipeline.shutoff_folder(folder, say=progress)
    if as_json:
        print_object(machine.shutoff_object(found))
    else:
        shutoff_tables.print_shutoff(found)


@click.command(epilog=WATCH_EPILOG)
@FOLDER
@OUT
@click.option(
    "--only-new", is_flag=True, help="Exit 3 only where something new or changed is to be acted on."
)
@click.option("--report", "with_report", is_flag=True, help="Write map, report and workbook too.")
@click.option(
    "--stale-after",
    "stale_after_d",
    type=click.FloatRange(min=0, min_open=True),
    metavar="DAYS",
    help="Say so, and exit 3, where the newest reading is older than that by today's clock.",
)
@JSON
def watch(
    folder: Path,
    out: Path,
    only_new: bool,
    with_report: bool,
    stale_after_d: float | None,
    as_json: bool,
) -> None:
    """Every morning: what is new since the data before, and what is still to be acted on.

    Takes new reading files in, looks for events, and writes morning.html, alarms.json, alarms.csv
    and alarms.atom.
    """
    with ExitStack() as held:
        with told(as_json) as progress:
            held.enter_context(watching.alone(folder, say=progress))
            found = pipeline.watch_folder(folder, out, say=progress, with_report=with_report)
        morning = found.morning
        stale = say_morning.stale(morning, stale_after_d, now=datetime.now(UTC))
        if as_json:
            click.echo(alarms_json(morning))
        else:
            say_morning.print_morning(morning, found.paths)
        if stale:
            click.echo(stale, err=True)
        with told(as_json):
            watching.remember(found)
    sys.exit(TO_ACT_ON if stale or say_morning.to_act_on(morning, only_new=only_new) else 0)
