"""What can be typed, and the exit code: 0 nothing to act on, 3 something to act on, 2 unusable."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from district import pipeline, watching
from district.cli import (
    audit_tables,
    guesses,
    layout,
    machine,
    say,
    say_morning,
    say_where,
    shutoff_tables,
    tables,
    terminal,
)
from district.errors import DistrictError
from district.render import alarms_json

TO_ACT_ON = 3
FOLDER = click.argument("folder", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead.")
OUT = click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("maps"),
    show_default=True,
    help="Where the pages go.",
)


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


@contextmanager
def _told(as_json: bool) -> Iterator[Callable[[str], None]]:
    """Show progress on a terminal; turn an error of ours into its lines and exit code."""
    console = Console(stderr=True)
    try:
        with console.status("starting") as status:
            yield lambda words: status.update(f"{words} ...")
    except DistrictError as error:
        if as_json:
            click.echo(machine.to_json({"error": list(error.lines())}))
        for line in error.lines():
            click.echo(line, err=True)
        sys.exit(error.exit_code)


@click.group(
    cls=terminal.Commands,
    context_settings={"help_option_names": ["-h", "--help"], "terminal_width": 100},
)
@click.version_option(package_name="district")
def main() -> None:
    """Turn meter readings and a pipe map into how much leaks, in which zone, since when, and on
    which stretch of pipe.

    Exit status: 0 nothing to act on, 3 something to act on, 2 input that cannot be used.
    """


@main.command(name="init")
@FOLDER
@JSON
def begin(folder: Path, as_json: bool) -> None:
    """Guess what the files of a folder hold and write a commented district.toml."""
    with _told(as_json) as progress:
        draft = pipeline.init_folder(folder, say=progress)
    if as_json:
        click.echo(machine.to_json(guesses.guesses_object(draft)))
    else:
        guesses.print_guesses(draft)
    sys.exit(TO_ACT_ON if draft.to_fill_in else 0)


@main.command()
@FOLDER
@JSON
def check(folder: Path, as_json: bool) -> None:
    """List what is wrong with a district folder, each with its place and its mend."""
    with _told(as_json) as progress:
        findings, quality = pipeline.inspect_folder(folder, say=progress)
    if as_json:
        devices = {"devices": machine.records(quality)}
        click.echo(machine.to_json({**machine.findings_object(findings), **devices}))
    else:
        click.echo(say.findings(findings))
        lacking = tables.devices_table(quality)
        if lacking.row_count:
            click.echo()
            layout.show(lacking)
    worst = findings[0].severity if findings else "note"
    sys.exit({"error": 2, "warning": TO_ACT_ON, "note": 0}[worst])


def _print(thing: Mapping[str, Any]) -> None:
    for piece in machine.pieces(thing):
        click.echo(piece, nl=False)
    click.echo()


@main.command()
@FOLDER
@JSON
def balance(folder: Path, as_json: bool) -> None:
    """Water balance of every zone: night flow, leakage, the year, with 95 % limits."""
    with _told(as_json) as progress:
        opened, found = pipeline.balance_folder(folder, say=progress)
    if as_json:
        _print(machine.tables_object(machine.balance_tables(found), found.basis))
    else:
        say.print_balance(found, opened.settings.district.currency)
    sys.exit(TO_ACT_ON if (found.zones["excess_l_s_low"] > 0).any() else 0)


@main.command()
@FOLDER
@click.option("--zone", default="", help="Every figure of one zone, or of 'district'.")
@JSON
def audit(folder: Path, zone: str, as_json: bool) -> None:
    """What each figure is made of, and what to measure better to know it better."""
    with _told(as_json) as progress:
        _, found = pipeline.balance_folder(folder, say=progress, audited=True)
        names = found.zones.set_index("cell_id")["name"]
        chosen = audit_tables.place(found.audit, names, zone) if zone else None
    if as_json:
        rows = found.audit if chosen is None else found.audit[found.audit["cell_id"] == chosen[0]]
        _print({"audit": rows, "improvements": found.improvements})
    elif chosen is None:
        layout.show(audit_tables.improvements_table(found.improvements, found.audit, names))
        say.print_reserved(found)
        click.echo(say.how_to_audit())
    else:
        layout.show(audit_tables.audit_table(found.audit, *chosen))
        say.print_reserved(found)


@main.command()
@FOLDER
@JSON
def locate(folder: Path, as_json: bool) -> None:
    """Where each leak most likely is, what told it, and the shortest walk likely to pass it."""
    with _told(as_json) as progress:
        opened, found, events, location = pipeline.locate_folder(folder, say=progress)
    if as_json:
        _print(machine.tables_object(machine.location_tables(events, location), location.basis))
    else:
        names = found.zones.set_index("cell_id")["name"]
        say_where.print_location(events, location, names, opened.settings)
    sys.exit(TO_ACT_ON if len(location.search_sets) else 0)


@main.command()
@FOLDER
@JSON
def reach(folder: Path, as_json: bool) -> None:
    """How small a leak would show, how far the walk to it, where to add a logger or meter."""
    with _told(as_json) as progress:
        opened, found, _, location = pipeline.locate_folder(folder, say=progress, ahead=True)
    if as_json:
        _print(machine.tables_object(machine.reach_tables(location), location.ahead))
    else:
        names = found.zones.set_index("cell_id")["name"]
        say_where.print_reach(location, names, opened.settings)


@main.command()
@FOLDER
@JSON
def shutoff(folder: Path, as_json: bool) -> None:
    """At which flow, and after how long, a building's automatic valve should shut."""
    with _told(as_json) as progress:
        _, found = pipeline.shutoff_folder(folder, say=progress)
    if as_json:
        _print(machine.shutoff_object(found))
    else:
        shutoff_tables.print_shutoff(found)


@main.command(name="map")
@FOLDER
@OUT
@JSON
def draw(folder: Path, out: Path, as_json: bool) -> None:
    """Write the interactive map alone: one file that opens without a network."""
    with _told(as_json) as progress:
        report = pipeline.report_folder(folder, say=progress)
        progress("drawing the map")
        path = pipeline.write_map(report, out / "map.html")
    click.echo(machine.to_json({"map": str(path)}) if as_json else f"Map: {path}")
    sys.exit(TO_ACT_ON if say.to_act_on(report) else 0)


@main.command()
@FOLDER
@OUT
@JSON
def report(folder: Path, out: Path, as_json: bool) -> None:
    """Run everything and write map, report, workbook and open tables."""
    with _told(as_json) as progress:
        found = pipeline.report_folder(folder, say=progress)
        progress("writing the pages")
        paths = pipeline.write_report(found, out)
    if as_json:
        _print(machine.report_object(found, paths))
    else:
        say.print_report(found, paths)
    sys.exit(TO_ACT_ON if say.to_act_on(found) else 0)


@main.command(epilog=WATCH_EPILOG)
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
        with _told(as_json) as progress:
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
        with _told(as_json):
            watching.remember(found)
    sys.exit(TO_ACT_ON if stale or say_morning.to_act_on(morning, only_new=only_new) else 0)


@main.command()
@FOLDER
@JSON
def score(folder: Path, as_json: bool) -> None:
    """Compare the results with a simulated district's truth.csv."""
    with _told(as_json) as progress:
        measures = pipeline.score_folder(folder, say=progress)
    if as_json:
        click.echo(machine.to_json({"score": machine.records(measures)}))
    else:
        layout.show(tables.score_table(measures))


@main.command()
@FOLDER
@click.option("--seed", default=7, show_default=True, help="Same seed, same district.")
def simulate(folder: Path, seed: int) -> None:
    """Write an invented district with hidden leaks into FOLDER."""
    with _told(False) as progress:
        progress("inventing a district")
        pipeline.simulate_folder(folder, seed=seed)
    click.echo(f"District written to {folder}; its truth.csv tells what is hidden in it.")
