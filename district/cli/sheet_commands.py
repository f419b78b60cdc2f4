"""The command that writes the sheets for the van, a page and a form a job."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from district import fieldwork
from district.cli import sheet_tables
from district.cli.options import FOLDER, JSON, TO_ACT_ON, print_object, told

EPILOG = """\
\b
One page of A4 a leak: where to listen, which valves to shut, whom to tell before, what to be
careful of, and room for what was found. Beside it a form: filled in and put under entries/ in the
folder, it is evidence or closes the job ('district verify').
  district sheets FOLDER
  district sheets FOLDER --event E-V1-2025-07-09 --out van
"""


@click.command(epilog=EPILOG)
@FOLDER
@click.option("--event", "events", multiple=True, metavar="ID", help="This job alone; or several.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("maps/jobs"),
    show_default=True,
    help="Where the sheets go.",
)
@JSON
def sheets(folder: Path, events: tuple[str, ...], out: Path, as_json: bool) -> None:
    """The sheet of each job for a crew, to print, and the form that comes back."""
    with told(as_json) as progress:
        found = fieldwork.jobs_folder(folder, events=events, say=progress)
        paths = fieldwork.write_jobs(found, out)
    if as_json:
        print_object(sheet_tables.sheets_object(found.jobs, paths))
    else:
        sheet_tables.print_sheets(found.jobs, paths)
    sys.exit(TO_ACT_ON if found.jobs else 0)
