"""What can be typed, and the exit code: 0 nothing to act on, 3 something to act on, 2 unusable."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from district import pipeline
from district.cli import (
    audit_tables,
    guesses,
    layout,
    machine,
    say,
    say_report,
    say_where,
    tables,
    terminal,
)
from district.cli.alarm_commands import events, shutoff, watch
from district.cli.options import FOLDER, JSON, OUT, TO_ACT_ON, print_object, told
from district.cli.renew_commands import renew
from district.cli.sheet_commands import sheets
from district.cli.step_commands import step_test
from district.cli.survey_commands import survey
from district.cli.valve_commands import isolate
from district.cli.verify_commands import ledger, verify


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
    with told(as_json) as progress:
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
    with told(as_json) as progress:
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


@main.command()
@FOLDER
@JSON
def balance(folder: Path, as_json: bool) -> None:
    """Water balance of every zone: night flow, leakage, the year, with 95 % limits."""
    with told(as_json) as progress:
        opened, found = pipeline.balance_folder(folder, say=progress)
    if as_json:
        print_object(machine.tables_object(machine.balance_tables(found), found.basis))
    else:
        say.print_balance(found, opened.settings.district.currency)
    sys.exit(TO_ACT_ON if (found.zones["excess_l_s_low"] > 0).any() else 0)


@main.command()
@FOLDER
@click.option("--zone", default="", help="Every figure of one zone, or of 'district'.")
@JSON
def audit(folder: Path, zone: str, as_json: bool) -> None:
    """What each figure is made of, and what to measure better to know it better."""
    with told(as_json) as progress:
        _, found = pipeline.balance_folder(folder, say=progress, audited=True)
        names = found.zones.set_index("cell_id")["name"]
        chosen = audit_tables.place(found.audit, names, zone) if zone else None
    if as_json:
        rows = found.audit if chosen is None else found.audit[found.audit["cell_id"] == chosen[0]]
        print_object({"audit": rows, "improvements": found.improvements})
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
    """Where each leak likely is, what told it, and the shortest walk likely to pass it."""
    with told(as_json) as progress:
        opened, found, events, location = pipeline.locate_folder(folder, say=progress)
    if as_json:
        print_object(
            machine.tables_object(machine.location_tables(events, location), location.basis)
        )
    else:
        names = found.zones.set_index("cell_id")["name"]
        say_where.print_location(events, location, names, opened.settings)
    sys.exit(TO_ACT_ON if len(location.search_sets) else 0)


@main.command()
@FOLDER
@JSON
def reach(folder: Path, as_json: bool) -> None:
    """How small a leak would show, how far the walk to it, where to add a logger or meter."""
    with told(as_json) as progress:
        opened, found, _, location = pipeline.locate_folder(folder, say=progress, ahead=True)
    if as_json:
        print_object(machine.tables_object(machine.reach_tables(location), location.ahead))
    else:
        names = found.zones.set_index("cell_id")["name"]
        say_where.print_reach(location, names, opened.settings)


@main.command(name="map")
@FOLDER
@OUT
@JSON
def draw(folder: Path, out: Path, as_json: bool) -> None:
    """Write the interactive map alone: one file that opens without a network."""
    with told(as_json) as progress:
        report = pipeline.report_folder(folder, say=progress)
        progress("drawing the map")
        path = pipeline.write_map(report, out / "map.html")
    click.echo(machine.to_json({"map": str(path)}) if as_json else f"Map: {path}")
    sys.exit(TO_ACT_ON if say_report.to_act_on(report) else 0)


@main.command()
@FOLDER
@OUT
@JSON
def report(folder: Path, out: Path, as_json: bool) -> None:
    """Run everything and write map, report, workbook and open tables."""
    with told(as_json) as progress:
        found = pipeline.report_folder(folder, say=progress)
        progress("writing the pages")
        paths = pipeline.write_report(found, out)
    if as_json:
        print_object(machine.report_object(found, paths))
    else:
        say_report.print_report(found, paths)
    sys.exit(TO_ACT_ON if say_report.to_act_on(found) else 0)


@main.command()
@FOLDER
@JSON
def score(folder: Path, as_json: bool) -> None:
    """Compare the results with a simulated district's truth.csv."""
    with told(as_json) as progress:
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
    with told(False) as progress:
        progress("inventing a district")
        pipeline.simulate_folder(folder, seed=seed)
    click.echo(f"District written to {folder}; its truth.csv tells what is hidden in it.")


for command in (
    events, isolate, ledger, renew, sheets, shutoff, step_test, survey, verify, watch,
):  # fmt: skip
    main.add_command(command)
