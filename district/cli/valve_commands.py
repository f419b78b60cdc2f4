"""The command of what to shut: for a stretch of pipe, and for the whole map."""

from __future__ import annotations

from pathlib import Path

import click

from district import fieldwork, shutting
from district.cli import machine, valve_tables
from district.cli.options import FOLDER, JSON, print_object, told
from district.errors import InputError

EPILOG = """\
\b
With a target it plans: which valves to shut in order, what is without water then and who that is,
the plan again for each valve that might not close, and the pressure left elsewhere.
  district isolate FOLDER --pipe P0256
  district isolate FOLDER --pipe P0256 --metres 23 --stuck V101
  district isolate FOLDER --at -1.9331 54.3529
  district isolate FOLDER --event E-BM42-2025-11-02
  district isolate FOLDER --building "Quern House"
Without one it tells which segments and valves matter most, and where one more valve would help.

It rests on the map alone, but for an event: readings are not needed for the others. For a
connection or a building it also tells who lies below, is fed through the same pipe, or is shut off
with it.
"""


@click.command(epilog=EPILOG)
@FOLDER
@click.option("--pipe", "pipes", multiple=True, metavar="ID", help="Pipe to shut off; or several.")
@click.option(
    "--metres",
    "from_west_m",
    type=float,
    metavar="M",
    help="A point so far along the pipe, from its western end.",
)
@click.option(
    "--at", type=(float, float), metavar="LON LAT", help="The nearest point of a pipe, in degrees."
)
@click.option("--connection", default="", metavar="ID", help="Where a connection leaves its pipe.")
@click.option("--building", default="", metavar="ID", help="The same for a building's highest one.")
@click.option("--event", default="", metavar="ID", help="The leak of an event, where it may lie.")
@click.option("--stuck", multiple=True, metavar="ID", help="Valve that does not close; or several.")
@JSON
def isolate(
    folder: Path,
    pipes: tuple[str, ...],
    from_west_m: float | None,
    at: tuple[float, float] | None,
    connection: str,
    building: str,
    event: str,
    stuck: tuple[str, ...],
    as_json: bool,
) -> None:
    """Which valves to shut for a stretch of pipe, and whom that leaves without water."""
    with told(as_json) as progress:
        on_map = bool(pipes or at or connection or building or from_west_m is not None)
        if not on_map and not event and not stuck:
            valves = shutting.valves_folder(folder, say=progress)
        else:
            if event and on_map:
                raise InputError([shutting.unclear()])
            if event:
                plan = fieldwork.isolate_event_folder(folder, event, stuck=stuck, say=progress)
            else:
                plan = shutting.plan_folder(
                    folder,
                    pipes=pipes,
                    from_west_m=from_west_m,
                    at=at,
                    connection=connection,
                    building=building,
                    stuck=stuck,
                    say=progress,
                )
            if as_json:
                print_object(machine.plan_object(plan))
            else:
                valve_tables.print_plan(plan)
            return
    if as_json:
        print_object(machine.valves_object(valves))
    else:
        valve_tables.print_valves(valves)
