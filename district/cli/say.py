"""What the command prints for people."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill

from district.cli.tables import WIDTH, events_table, show, stretches_table, zones_table
from district.errors import SEVERITIES, Finding
from district.render import shifted_zones
from district.results import Basis, DistrictReport
from district.words import CAUTION, period, plural


def findings(found: Sequence[Finding]) -> str:
    """Findings as lines, worst first, with a count at the end."""
    lines = [f"{f.severity}: {f.sentence()}" for f in found]
    return "\n".join([*lines, _counted(found)])


def _counted(found: Sequence[Finding]) -> str:
    if not found:
        return "Nothing wrong was found."
    counts = [
        plural(n, severity)
        for severity in SEVERITIES
        if (n := sum(f.severity == severity for f in found))
    ]
    return f"Findings: {', '.join(counts)}."


def basis(found: Basis, what: str) -> list[str]:
    """What a result rests on, as lines; `what` begins the first: 'The balance rests on'."""
    lines = []
    if found.first and found.last:
        meters = f", {plural(len(found.meters), 'meter')}" if found.meters else ""
        lines.append(f"{what} {period(found.first, found.last)}{meters}.")
    lines += [f"- {words}" for words in found.assumptions]
    if found.limits:
        lines += ["Limited by:", *(f"- {words}" for words in found.limits)]
    return lines


def caution() -> str:
    """Who may act on what is printed, as lines."""
    return fill(CAUTION, WIDTH)


def to_act_on(report: DistrictReport) -> bool:
    """Whether anything in the report asks for action."""
    return bool(report.events.events["act"].any()) or len(report.location.search_sets) > 0


def print_report(report: DistrictReport, paths: Sequence[Path]) -> None:
    """The whole printed output of `district report`."""
    names = report.balance.zones.set_index("cell_id")["name"]
    limiting = [f for f in report.findings if f.severity != "note"]
    more = " See 'district check' for each." if report.findings else ""
    print(f"{report.name}: {_counted(report.findings)}{more}\n")
    for finding in limiting[:3]:
        print(f"  {finding.sentence()}")
    if len(limiting) > 3:
        print(f"  ... and {len(limiting) - 3} more")
    shifted = shifted_zones(report.events.events)
    show(
        zones_table(report.balance.zones, shifted),
        events_table(report.events.events, names),
        stretches_table(report.location.stretches, names),
    )
    if shifted:
        print("* A meter or boundary shifts water between these zones on paper; see the events.")
    noted = report.balance.zones[report.balance.zones["index_note"] != ""]
    if len(noted):
        first = noted.iloc[0]
        said = f"Leakage index not valid for {first['name']}: {first['index_note']}."
        more = " The report says why for the others." if len(noted) > 1 else ""
        print(fill(said + more, WIDTH))
    print(caution())
    for path in paths:
        if path.suffix in (".html", ".gpkg", ".xlsx"):
            print(f"{path}")
    tables = [p for p in paths if p.suffix == ".csv"]
    if tables:
        print(f"{tables[0].parent}/ ({len(tables)} CSV tables)")
