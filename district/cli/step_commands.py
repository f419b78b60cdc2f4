"""The command of step tests: which valves to shut one after another by night, and what was read."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from district import fieldwork
from district.cli import machine, step_tables
from district.cli.layout import print_lines
from district.cli.options import FOLDER, JSON, print_object, told
from district.words import listed

_CLOCK = click.DateTime(["%H:%M"])
EPILOG = """\
\b
The plan parts the zone by its valves where the leak most likely is, so that least is left to
listen to; critical users and other zones keep their water. Tests on record are told as well.
  district step-test FOLDER --zone V3
  district step-test FOLDER --zone V3 --steps 6 --from 00:30 --to 05:00 --out van
"""


@click.command(name="step-test", epilog=EPILOG)
@FOLDER
@click.option("--zone", required=True, metavar="ID", help="Zone to test, by id or name.")
@click.option(
    "--steps",
    "steps_count",
    type=click.IntRange(1, 12),
    default=4,
    show_default=True,
    help="Sections to shut, at most.",
)
@click.option("--from", "begins", type=_CLOCK, default="01:30", show_default=True, help="Begin.")
@click.option("--to", "ends", type=_CLOCK, default="04:30", show_default=True, help="All open.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write its sheet and form there.",
)
@JSON
def step_test(
    folder: Path,
    zone: str,
    steps_count: int,
    begins: datetime,
    ends: datetime,
    out: Path | None,
    as_json: bool,
) -> None:
    """Which valves to shut one after another by night, and what a step test said of a zone."""
    with told(as_json) as progress:
        found = fieldwork.step_test_folder(
            folder,
            zone=zone,
            steps_count=steps_count,
            begins=begins.time(),
            ends=ends.time(),
            say=progress,
        )
        paths = fieldwork.write_step_test(found, out) if out is not None else ()
    if as_json:
        print_object(machine.step_test_object(found) | {"files": [str(p) for p in paths]})
    else:
        step_tables.print_step_test(found)
        print_lines([f"Written: {listed(map(str, paths))}." if paths else ""])
