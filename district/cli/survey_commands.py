"""The command of the walk: what a crew searches, in which order, and where it listens."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from district import surveying
from district.cli import machine, survey_tables
from district.cli.options import FOLDER, JSON, TO_ACT_ON, print_object, told


@click.command()
@FOLDER
@click.option("--zone", "zones", multiple=True, metavar="ID", help="Zone to walk; or several.")
@click.option(
    "--depot",
    type=(float, float),
    metavar="LON LAT",
    help="Where the walk begins and ends, in degrees.",
)
@click.option(
    "--hours",
    "shift_h",
    type=click.FloatRange(0.5, 16),
    metavar="H",
    help="Hours of a shift on foot.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the walk there, as GeoPackage, GeoJSON and GPX.",
)
@JSON
def survey(
    folder: Path,
    zones: tuple[str, ...],
    depot: tuple[float, float] | None,
    shift_h: float | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """The shortest walk over the pieces to search, where to listen, where to set sensors."""
    with told(as_json) as progress:
        found = surveying.survey_folder(
            folder, zones=zones, depot_deg=depot or (), shift_h=shift_h, say=progress
        )
        paths = surveying.write_survey(found, out) if out is not None else ()
    if as_json:
        print_object(machine.survey_object(found, paths))
    else:
        names = found.opened.network.cells["name"]
        survey_tables.print_survey(found, names, paths)
    sys.exit(TO_ACT_ON if len(found.walk.legs) else 0)
