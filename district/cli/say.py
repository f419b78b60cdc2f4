"""What the command prints: tables for people, objects for machines."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pandas as pd
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from district.errors import Finding
from district.render import day, rounded
from district.results import Basis, DistrictReport

WIDTH = 104
"""Wide enough for the zone table; the same on every terminal, so that what is printed is."""
SHOWN = 10
CAUTION = (
    "Figures are estimates with 95 % limits. Shutting valves, opening chambers and digging need "
    "licensed people and local rules; fire supply and critical users come first."
)


def show(*tables: Table) -> None:
    """Print tables at a fixed width, without the blanks that fill each line."""
    console = Console(width=WIDTH, highlight=False)
    for table in tables:
        with console.capture() as held:
            console.print(table)
        print("\n".join(line.rstrip() for line in held.get().rstrip().splitlines()), end="\n\n")


def findings(found: Sequence[Finding]) -> str:
    """Findings as lines, worst first, with a count at the end."""
    lines = [f"{f.severity}: {f.sentence()}" for f in found]
    return "\n".join([*lines, _counted(found)])


def _counted(found: Sequence[Finding]) -> str:
    if not found:
        return "Nothing wrong was found."
    counts = [
        f"{n} {severity}{'s' if n > 1 else ''}"
        for severity in ("error", "warning", "note")
        if (n := sum(f.severity == severity for f in found))
    ]
    return f"Findings: {', '.join(counts)}."


def _table(title: str, *columns: str, left: int = 1) -> Table:
    table = Table(title=title, title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
    for n, column in enumerate(columns):
        table.add_column(column, justify="left" if n < left else "right", no_wrap=n >= left)
    return table


def _or_none(table: Table) -> Table:
    if not table.row_count:
        table.add_row("none")
    return table


def _est(row: Any, name: str) -> str:
    """An estimate with its limits beneath; the unit stands in the column's heading."""
    value, low, high = rounded(
        getattr(row, name), getattr(row, f"{name}_low"), getattr(row, f"{name}_high"), name
    )
    if not low:
        return value
    # A dash reads well and is short, but not beside a minus sign.
    return f"{value}\n{low} to {high}" if "-" in low + high else f"{value}\n{low}–{high}"


def disturbed(events: pd.DataFrame) -> set[str]:
    """Zones whose metered figures an open change of meter or boundary shifts."""
    moved = events[(events["kind"] == "meter_or_boundary") & (events["state"] == "open")]
    return set(moved["cell_id"]) | set(moved["other_cell_id"]) - {""}


def zones_table(zones: pd.DataFrame, shifted: Collection[str] = ()) -> Table:
    """Zones worst first, those in `shifted` with an asterisk."""
    table = _table(
        "Zones, worst first (95 % limits beneath each figure)",
        "Zone",
        "Inflow\nm³/day",
        "Minimum\nnight flow\nL/s",
        "Legitimate\nnight use\nL/s",
        "Excess\nnight flow\nL/s",
        "Leakage\nL/connection\na day",
        "Leakage\nindex",
    )
    for row in zones.itertuples():
        star = " *" if row.cell_id in shifted else ""
        own = "" if row.name == row.cell_id else f"\n{row.cell_id}"
        table.add_row(
            Text(f"{row.name}{star}{own}"),
            _est(row, "inflow_m3_d"),
            _est(row, "minimum_night_flow_l_s"),
            _est(row, "legitimate_use_l_s"),
            _est(row, "excess_l_s"),
            _est(row, "leakage_l_connection_d"),
            "not valid" if row.index_note else _est(row, "leakage_index"),
        )
    return table


def annual_table(annual: pd.DataFrame, cell_id: str = "district") -> Table:
    """The annual balance of the district."""
    table = _table("Annual balance of the district", "Component", "m³", "Rests on")
    for row in annual[annual["cell_id"] == cell_id].itertuples():
        table.add_row("  " * int(row.level) + row.component, _est(row, "volume_m3"), row.rests_on)
    return table


def events_table(events: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """Events worth acting on."""
    table = _table(
        "Events worth acting on",
        "Where",
        "What",
        "Since",
        "Rise\nL/s",
        "Volume\nto date m³",
        left=2,
    )
    for row in events[events["act"].astype(bool)].itertuples():
        zone = names.get(row.cell_id, row.cell_id)
        where = str(zone) if row.place_kind == "zone" else f"{row.place_id}, {zone}"
        table.add_row(
            Text(where),
            row.kind.replace("_", " "),
            day(row.start),
            _est(row, "size_l_s"),
            _est(row, "volume_m3"),
        )
    return _or_none(table)


def sets_table(sets: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The walk in each zone with an excess."""
    table = _table(
        "The shortest stretches that hold 90 % of each zone's excess",
        "Zone",
        "Flow looked for L/s",
        "Stretches",
        "Walk km",
        "Mains km",
        "Walk",
    )
    for row in sets.itertuples():
        table.add_row(
            Text(str(names.get(row.cell_id, row.cell_id))),
            _est(row, "flow_l_s"),
            str(int(row.pipes_count)),
            f"{row.set_km:.2f}",
            f"{row.mains_km:.2f}",
            f"{row.set_share:.0%}",
        )
    return _or_none(table)


def stretches_table(stretches: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The stretches to walk first."""
    table = _table(
        f"The {SHOWN} stretches of pipe most likely to leak, in order of search",
        "Stretch",
        "Zone",
        "Why",
        "Length\nm",
        "Probability\n%",
        "Likely flow\nL/s",
        left=3,
    )
    ranked = stretches[stretches["in_set"].astype(bool)].sort_values("rank").head(SHOWN)
    for row in ranked.itertuples():
        table.add_row(
            Text(str(row.stretch_id)),
            Text(str(names.get(row.cell_id, row.cell_id))),
            Text(str(row.why)),
            f"{row.length_m:.0f}",
            _est(row, "probability_share"),
            _est(row, "flow_l_s"),
        )
    return _or_none(table)


def score_table(measures: pd.DataFrame) -> Table:
    """The comparison with the truth."""
    table = _table("Against truth.csv", *(str(c) for c in measures.columns))
    for row in measures.itertuples(index=False):
        table.add_row(*(_plain(v) for v in row))
    return table


def _plain(value: Any) -> str:
    if isinstance(value, float):
        return "-" if math.isnan(value) else f"{value:.3g}"
    return str(value)


def basis(found: Basis) -> list[str]:
    """What a result rests on, as lines."""
    lines = []
    if found.first and found.last:
        meters = f", {len(found.meters)} meters" if found.meters else ""
        lines.append(f"Rests on {found.first} to {found.last}{meters}.")
    lines += [f"- {words}" for words in found.assumptions]
    if found.limits:
        lines += ["Limited by:", *(f"- {words}" for words in found.limits)]
    return lines


def to_act_on(report: DistrictReport) -> bool:
    """Whether anything in the report asks for action."""
    return bool(report.events.events["act"].any()) or len(report.location.search_sets) > 0


def print_report(report: DistrictReport, paths: Sequence[Path]) -> None:
    """The whole printed output of `district report`."""
    names = report.balance.zones.set_index("cell_id")["name"]
    limiting = [f for f in report.findings if f.severity != "note"]
    print(f"{report.name}: {_counted(report.findings)} See 'district check' for each.\n")
    for finding in limiting[:3]:
        print(f"  {finding.sentence()}")
    if len(limiting) > 3:
        print(f"  ... and {len(limiting) - 3} more")
    shifted = disturbed(report.events.events)
    show(
        zones_table(report.balance.zones, shifted),
        events_table(report.events.events, names),
        stretches_table(report.location.stretches, names),
    )
    if shifted:
        print("* A meter or boundary shifts water between these zones on paper; see the events.")
    notes = [n for n in report.balance.zones["index_note"].unique() if n]
    for note in notes[:1]:
        print(f"Leakage index not valid: {note}")
    print(CAUTION)
    for path in paths:
        if path.suffix in (".html", ".gpkg", ".xlsx"):
            print(f"{path}")
    tables = [p for p in paths if p.suffix == ".csv"]
    if tables:
        print(f"{tables[0].parent}/ ({len(tables)} CSV tables)")


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as objects, empty values as null, times as ISO 8601."""
    return [{k: _jsonable(v) for k, v in row.items()} for row in frame.to_dict("records")]


def _jsonable(value: Any) -> Any:
    if value is None or value is pd.NaT or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time.min else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return value.item() if hasattr(value, "item") else value


def findings_object(found: Sequence[Finding]) -> dict[str, Any]:
    """Findings for machines."""
    return {"findings": [{**vars(f), "sentence": f.sentence()} for f in found]}


def tables_object(tables: Mapping[str, pd.DataFrame], rests_on: Basis) -> dict[str, Any]:
    """Tables for machines, with what they rest on."""
    return {
        **{name: records(frame) for name, frame in tables.items()},
        "basis": {k: _jsonable(v) if isinstance(v, date) else v for k, v in vars(rests_on).items()},
    }


def report_object(report: DistrictReport, paths: Sequence[Path]) -> dict[str, Any]:
    """Everything `district report` says, for machines."""
    tables = {
        "zones": report.balance.zones,
        "events": report.events.events,
        "search_sets": report.location.search_sets,
        "stretches": report.location.stretches.head(SHOWN),
        "annual_balance": report.balance.annual,
        "indicators": report.balance.indicators,
    }
    return {
        "name": report.name,
        **tables_object(tables, report.balance.basis),
        **findings_object(report.findings),
        "files": [str(p) for p in paths],
    }


def to_json(thing: Mapping[str, Any]) -> str:
    """JSON text, UTF-8, no NaN."""
    return json.dumps(thing, indent=1, ensure_ascii=False, allow_nan=False)
