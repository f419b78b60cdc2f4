"""A plan to shut off a stretch, and the valves of a map, for people."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, named, or_none, print_lines, show, titled
from district.results import Isolation
from district.schema.isolate_tables import CASCADE_CAUTION, ISOLATION_CAUTION
from district.shutting import IsolationPlan
from district.words import CAUTION, EMPTY, brief, missing, percent, plural, spelled

SHOWN = 10
"""Rows of the longer tables that are printed; --json has all."""
LEAST_FALL_M = 1.0
"""Falls of pressure smaller than this trouble nobody."""


def valve_table(valves: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The valves to shut, in order; then those to leave as they stand."""
    table = titled("Valves, in this order", "", "Valve", "Kind", "Zone", "Pipe\nmm", left=4)
    for row in valves.itertuples():
        first = f"{row.rank:.0f}" if row.action == "shut" else spelled(row.action)
        beside = "" if missing(row.beside) else f", or {row.beside} beside it"
        table.add_row(
            first,
            Text(f"{row.valve_id}{beside}"),
            spelled(row.kind),
            Text(str(names.get(row.cell_id, row.cell_id))),
            EMPTY if missing(row.diameter_mm) else f"{row.diameter_mm:.0f}",
        )
    return or_none(table)


def area_table(areas: pd.DataFrame) -> Table:
    """What is without water: what was wanted, and what else."""
    table = titled(
        "Without water",
        "Part",
        "Pipe\nm",
        "Connections",
        "Properties",
        "People",
        "Critical\nusers",
        "Mean use\nL/s",
    )
    for row in areas.itertuples():
        part = {"shut_off": "shut off", "unintended": f"area {row.area_id}, unintended"}
        table.add_row(
            Text(part.get(row.kind, f"area {row.area_id}, in doubt")),
            brief(row.length_m),
            f"{row.connections_count:.0f}",
            f"{row.properties_count:.0f}",
            estimate(row, "people_count"),
            f"{row.critical_count:.0f}",
            estimate(row, "use_l_s"),
        )
    return or_none(table)


def user_table(users: pd.DataFrame) -> Table:
    """Who must be told first."""
    table = titled("To settle before a valve is turned", "Connection", "Building", "Use", left=3)
    for row in users[users["kind"] != "other"].itertuples():
        fed = "" if missing(row.also_fed_by) else f"; {row.also_fed_by} stays fed"
        use = spelled(row.use_class) if row.kind == "critical" else row.kind
        table.add_row(
            Text(str(row.connection_id)),
            named(row.building_id),
            Text(f"{use}{fed}"),
        )
    return or_none(table)


def pressure_table(pressures: pd.DataFrame) -> Table:
    """The connections that stay fed and lose most pressure at the hour of most use."""
    table = titled(
        "Pressure left, at the hour of most use",
        "Connection",
        "Building",
        "Now\nm",
        "Then\nm",
        "Change\nm",
        left=2,
    )
    for row in pressures[pressures["change_m"] <= -LEAST_FALL_M].head(SHOWN).itertuples():
        table.add_row(
            Text(str(row.connection_id)),
            named(row.building_id),
            estimate(row, "before_m"),
            estimate(row, "after_m"),
            estimate(row, "change_m"),
        )
    return or_none(table)


def leak_segment_table(found: pd.DataFrame) -> Table:
    """The segments that a leak may lie in, the likeliest first."""
    table = titled(
        "Segments the leak may lie in; the plan is for the first",
        "Segment\nby its first pipe",
        "Valves to shut",
        "Chance",
        "Properties\ndry",
        "Critical\nusers",
        left=2,
    )
    for row in found.head(SHOWN).itertuples():
        table.add_row(
            Text(str(row.segment_id)),
            Text(str(row.valves) + ("" if missing(row.sources) else f", and {row.sources}")),
            percent(row.probability_share, decimals=0),
            EMPTY if missing(row.dry_properties_count) else f"{row.dry_properties_count:.0f}",
            EMPTY if missing(row.dry_critical_count) else f"{row.dry_critical_count:.0f}",
        )
    return or_none(table)


def cascade_table(found: pd.DataFrame) -> Table:
    """Whom a leak at a connection may reach."""
    table = titled(
        "Whom a leak there may reach",
        "Connection",
        "Building",
        "Storey",
        "Use",
        "How",
        "Properties",
        left=5,
    )
    for row in found.head(4 * SHOWN).itertuples():
        table.add_row(
            Text(str(row.connection_id)),
            named(row.building_id),
            EMPTY if missing(row.floor) else f"{row.floor:g}",
            Text(spelled(row.use_class) if row.kind in ("critical", "other") else row.kind),
            row.said,
            f"{row.properties:.0f}",
        )
    return or_none(table)


def print_plan(found: IsolationPlan) -> None:
    """The whole printed output of `district isolate` with a target."""
    plan = found.plan
    print_lines([plan.caution])
    if len(found.leak_segments):
        show(leak_segment_table(found.leak_segments))
    if len(found.cascade):
        print_lines([CASCADE_CAUTION])
        show(cascade_table(found.cascade))
        beyond = len(found.cascade) - 4 * SHOWN
        print_lines([f"{plural(beyond, 'more connection')}: --json has all." if beyond > 0 else ""])
    print_lines([f"- {line}" for line in plan.said])
    show(valve_table(plan.valves, found.mapped.network.cells["name"]), area_table(plan.areas))
    if (plan.users["kind"] != "other").any():
        show(user_table(plan.users))
    others = int((plan.users["kind"] == "other").sum())
    print_lines(
        [
            f"To tell beforehand as well: {plural(others, 'connection')} that no use sets apart; "
            "--json names them."
            if others
            else ""
        ]
    )
    if found.pressure is None:
        print_lines([f"The pressure that is left was not worked out: {found.pressure_missing}"])
        return
    show(pressure_table(found.pressure.table))
    fallen = int((found.pressure.table["change_m"] <= -LEAST_FALL_M).sum())
    more = f"{plural(fallen - SHOWN, 'more connection')} lose {LEAST_FALL_M:g} m or more."
    print_lines([more if fallen > SHOWN else "", *(f"- {s}" for s in found.pressure.assumed)])
    print_lines([found.pressure.caution])


def segment_table(losses: pd.DataFrame) -> Table:
    """Segments whose shut-off takes water from most, the worst first."""
    table = titled(
        "What a break takes with it: segments, the worst first",
        "Segment\nby its first pipe",
        "Valves\nto shut",
        "Properties\ndry",
        "of these\nunintended",
        "Critical\nusers",
        "Pipe dry\nm",
    )
    for row in losses.head(SHOWN).itertuples():
        table.add_row(
            Text(str(row.segment_id) + ("" if missing(row.sources) else f", and {row.sources}")),
            f"{row.valves_count:.0f}",
            f"{row.dry_properties_count:.0f}",
            f"{row.unintended_properties_count:.0f}",
            f"{row.dry_critical_count:.0f}",
            brief(row.dry_length_m),
        )
    return or_none(table)


def failing_table(losses: pd.DataFrame) -> Table:
    """Valves that must not fail, the worst first."""
    table = titled(
        "Valves whose failure hurts most",
        "Valve",
        "When this segment is shut",
        "More properties\ndry",
        "Critical\nusers",
        "In the mean,\nproperties",
        left=2,
    )
    for row in losses[~losses["worst_for"].map(missing)].head(SHOWN).itertuples():
        table.add_row(
            Text(str(row.valve_id)),
            Text(str(row.worst_for)),
            f"{row.more_properties_count:.0f}",
            f"{row.more_critical_count:.0f}",
            brief(row.expected_properties_count),
        )
    return or_none(table)


def print_valves(found: Isolation) -> None:
    """The whole printed output of `district isolate` without a target."""
    open_valves, count = len(found.valve_losses), len(found.segments)
    print_lines(
        [
            f"{plural(open_valves, 'open valve')} part the map into {plural(count, 'segment')}; "
            "each is shut off as one.",
        ]
    )
    show(segment_table(found.segment_losses), failing_table(found.valve_losses))
    print_lines(
        ["Where one more valve would help most, each on top of those before it:"]
        + [f"- {s}" for s in found.new_valves["said"]]
    )
    print_lines([f"- {finding.sentence()}" for finding in found.findings])
    print_lines([ISOLATION_CAUTION])
    print_lines([CAUTION])
