"""The plan of a step test, and what earlier ones read, for people."""

from __future__ import annotations

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, print_lines, show, titled
from district.stepping import StepTest
from district.words import EMPTY, brief, missing, plural

_ACTIONS = {"prepare": "shut", "read": "read", "step": "shut, read", "reopen": "open"}


def turn_table(plan: pd.DataFrame) -> Table:
    """What to turn and read, in order of time."""
    table = titled("In this order", "", "From", "Do", "Valve", "Section", "Pipe\nmm", left=5)
    for row in plan.itertuples():
        beside = "" if missing(row.beside) else f", or {row.beside} beside it"
        table.add_row(
            f"{row.rank:.0f}",
            row.local_time,
            _ACTIONS[row.action],
            Text(f"{row.valve_id}{beside}" if row.valve_id else EMPTY),
            "" if missing(row.section_id) else row.section_id,
            EMPTY if missing(row.diameter_mm) else f"{row.diameter_mm:.0f}",
        )
    return or_none(table)


def section_table(sections: pd.DataFrame) -> Table:
    """The sections in the order they are shut, and by how much the inflow should fall."""
    table = titled(
        "What each step should show",
        "Section",
        "Valve",
        "Pipe\nm",
        "Properties",
        "Likely\n%",
        "Night use\nL/s",
        "Falls, leak\nin it  L/s",
        "Falls, leak\nnot in it  L/s",
        "Dry\nh",
        left=2,
    )
    for row in sections.itertuples():
        table.add_row(
            row.section_id if row.section_id != "0" else "stays open",
            Text(row.valve_id or EMPTY),
            brief(row.length_m),
            f"{row.properties_count:.0f}",
            f"{100 * row.probability_share:.0f}",
            estimate(row, "use_l_s"),
            estimate(row, "drop_with_l_s"),
            estimate(row, "drop_without_l_s"),
            EMPTY if missing(row.dry_h) else brief(row.dry_h),
        )
    return or_none(table)


def result_table(results: pd.DataFrame) -> Table:
    """What one test read of each section, beside its size."""
    table = titled(
        f"Step test {results['test_id'].iloc[0]} of {results['day'].iloc[0]:%Y-%m-%d}",
        "Section",
        "Pipe\nm",
        "Proper-\nties",
        "Fall\nL/s",
        "Its use\nL/s",
        "Beyond it\nL/s",
        "by km\nL/h",
        "by prop.\nL/h",
    )
    for row in results.itertuples():
        table.add_row(
            Text(f"{row.section_id}, {row.valve_id}" if row.valve_id else "left open"),
            brief(row.length_m),
            f"{row.properties_count:.0f}",
            estimate(row, "drop_l_s"),
            estimate(row, "use_l_s"),
            estimate(row, "beyond_l_s"),
            estimate(row, "beyond_l_km_h"),
            EMPTY if missing(row.beyond_l_property_h) else estimate(row, "beyond_l_property_h"),
        )
    return table


def print_step_test(found: StepTest) -> None:
    """The whole printed output of `district step-test`."""
    plan = found.plan
    print_lines([plan.caution])
    print_lines([f"- {line}" for line in plan.said])
    if len(plan.plan):
        show(turn_table(plan.plan), section_table(plan.sections))
        held = plan.users["properties"].fillna(1).sum()
        print_lines(
            [
                f"To tell beforehand: {plural(len(plan.users), 'connection')} with "
                f"{plural(int(held), 'property', 'properties')}, without water for up to "
                f"{brief(plan.sections['dry_h'].max())} h; --json has the list."
            ]
        )
    print_lines([f"- {line}" for line in found.rests_on])
    for _, own in found.results.groupby("test_id", sort=False):
        show(result_table(own))
        print_lines([f"- {line}" for line in own["said"]])
    if len(found.results):
        print_lines([f"- {line}" for line in found.results_rest_on])
