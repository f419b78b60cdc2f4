"""What `district report` prints: how much, what is wrong, what began, where to walk first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill

from district.cli import say_events
from district.cli.layout import WIDTH, print_lines, show
from district.cli.locate_tables import stretches_table
from district.cli.say import caution, print_counted, print_files, print_meters, running
from district.cli.say_events import print_beside
from district.cli.tables import zones_table
from district.render import of_zones, shifted_zones
from district.results import DistrictReport, Location
from district.words import plural, true


def what_told(location: Location) -> str:
    """One sentence on what the stretches rest on, '' where nothing is looked for."""
    if location.search_sets.empty:
        return ""
    used = location.logger_checks["used"].map(true).astype(bool)
    heard = f"{int(used.sum())} of {plural(len(used), 'pressure logger')} can be used"
    said = f"; {heard}" if len(used) else ""
    return (
        "'district locate' says what told each leak's place and which piece of a stretch to walk"
        f"{said}."
    )


def to_act_on(report: DistrictReport) -> bool:
    """Whether anything in the report asks for action."""
    return say_events.to_act_on(report.events) or len(report.location.search_sets) > 0


def print_report(report: DistrictReport, paths: Sequence[Path]) -> None:
    """The whole printed output of `district report`."""
    names = report.balance.zones.set_index("cell_id")["name"]
    print_counted(report.name, report.findings, shown=3, more=" See 'district check' for each.")
    shifted = shifted_zones(report.events.events)
    show(zones_table(report.balance.zones, shifted))
    print_lines(of_zones(report.balance))
    cost = running(report.balance.economics, report.currency)
    if cost:
        print("\n".join(cost), end="\n\n")
    print_meters(report.balance)
    print_beside(report.events, names, report.currency)
    show(stretches_table(report.location.stretches, names))
    print_lines([what_told(report.location)])
    if shifted:
        print("* A meter or boundary shifts water between these zones on paper; see the events.")
    noted = report.balance.zones[report.balance.zones["index_note"] != ""]
    if len(noted):
        first = noted.iloc[0]
        said = f"Leakage index not valid for {first['name']}: {first['index_note']}."
        more = " The report says why for the others." if len(noted) > 1 else ""
        print(fill(said + more, WIDTH))
    print(caution())
    print_files(paths)
