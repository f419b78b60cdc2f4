"""The commands of what became of leaks: repairs verified, and the ledger of a year."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from district import pipeline
from district.cli import machine, verify_tables
from district.cli.options import FOLDER, JSON, OUT, TO_ACT_ON, print_object, told
from district.errors import StageError

VERIFY_EPILOG = """\
\b
Run it some nights after each repair, and before the trench is made good where that can wait:
  district verify FOLDER --since 2025-05-01

Exit status: 0 no crew need go back, 3 some must, 2 input that cannot be used.
"""


@click.command(epilog=VERIFY_EPILOG)
@FOLDER
@click.option(
    "--since",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="DATE",
    help="Only repairs done on that date or later.",
)
@JSON
def verify(folder: Path, since: datetime | None, as_json: bool) -> None:
    """After a repair: is the job closed, or must a crew go back, and where to."""
    first = None if since is None else since.date()
    with told(as_json) as progress:
        _, balance, found = pipeline.verify_folder(folder, since=first, say=progress)
    if as_json:
        print_object(machine.ledger_object(found, "verifications"))
    else:
        verify_tables.print_verified(found, balance.zones)
    sys.exit(TO_ACT_ON if (found.verifications["outcome"] == "crew_back").any() else 0)


@click.command()
@FOLDER
@click.option(
    "--year", type=click.IntRange(1900, 2200), metavar="Y", help="The latest if not said."
)
@OUT
@JSON
def ledger(folder: Path, year: int | None, out: Path, as_json: bool) -> None:
    """Leaks of a year: found, mended, verified; their water and money; a page to print."""
    with told(as_json) as progress:
        *_, found = pipeline.ledger_folder(folder, say=progress)
        wanted = year or verify_tables.latest_year(found)
        if wanted is None or not (found.years["year"] == wanted).any():
            known = ", ".join(f"{y:.0f}" for y in found.years["year"]) or "none"
            raise StageError(
                f"{folder}: no leak and no night of {wanted} is known (known: {known})."
            )
        paths = pipeline.write_ledger(found, wanted, out)
    if as_json:
        print_object(
            {
                "year": wanted,
                **machine.ledger_object(found, "leaks", "years", "groups", "verifications"),
                "files": [str(path) for path in paths],
            }
        )
    else:
        verify_tables.print_ledger(found, wanted, paths)
