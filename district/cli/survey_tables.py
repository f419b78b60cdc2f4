"""What `district survey` prints for people: shifts, legs, set-ups, other orders, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, print_lines, show, titled
from district.schema.survey_tables import ROUND_WORDS
from district.surveying import Surveyed
from district.words import brief, missing, percent, plural, spelled, true, whole

SHOWN = 10


def shift_table(shifts: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The shifts, the one that finds most by the hour first."""
    table = titled(
        "Shifts, in order of the flow found by the hour",
        "",
        "Zone",
        "Begins and ends",
        "Search\nm",
        "Walk\nm",
        "Points",
        "Hours\nabout",
        "Flow passed\nby its end",
        left=3,
    )
    for row in shifts.itertuples():
        zones = [str(names.get(z, z)) for z in str(row.cell_ids).split(", ")]
        table.add_row(
            str(row.shift),
            Text(", ".join(zones)),
            Text(str(row.start)),
            whole(row.searched_m),
            whole(row.walked_m),
            whole(row.points_count),
            brief(row.work_h) + ("" if true(row.fits) else " *"),
            percent(row.cumulative_share, decimals=0),
        )
    return or_none(table)


def leg_table(legs: pd.DataFrame) -> Table:
    """The first legs of the walk."""
    table = titled(
        f"The walk, first {min(SHOWN, len(legs))} of {plural(len(legs), 'leg')}",
        "",
        "Shift",
        "Stretch",
        "From-to\nm",
        "There\nm",
        "Points",
        "About\nmin",
        "Probability\n%",
        "by 100 m\n%",
        "Passed\n%",
        "Soonest\norder",
        left=3,
    )
    for row in legs.head(SHOWN).itertuples():
        table.add_row(
            str(row.leg),
            str(row.shift),
            Text(str(row.stretch_id)),
            f"{row.from_m:.0f}–{row.to_m:.0f}",
            whole(row.there_m) + (" *" if row.there_by == "straight" and row.there_m > 0 else ""),
            whole(row.points_count),
            brief(row.leg_min),
            estimate(row, "probability_share"),
            brief(100 * row.probability_per_100_m_share),
            percent(row.cumulative_share, decimals=0).removesuffix(" %"),
            str(row.soonest_rank),
        )
    return or_none(table)


def set_up_table(set_ups: pd.DataFrame) -> Table:
    """The first set-ups of the correlator."""
    table = titled(
        "Two sensors about a piece, and how much later the noise comes to the first",
        "Stretch",
        "First at",
        "Other at",
        "Material",
        "Apart\nm",
        "At most\nm",
        "Sound\nm/s",
        "Delay\nms",
        "On the piece\nms",
        left=4,
    )
    for row in set_ups.head(SHOWN).itertuples():
        over = (
            "-"
            if missing(row.delay_from_ms)
            else f"{row.delay_from_ms:.0f} to {row.delay_to_ms:.0f}"
        )
        table.add_row(
            Text(str(row.stretch_id)),
            Text(str(row.first_id)),
            Text(str(row.other_id)),
            Text(", ".join(spelled(m) for m in str(row.materials).split(", "))),
            whole(row.between_m) + (" *" if true(row.too_far) else ""),
            brief(row.most_apart_m),
            estimate(row, "speed_m_s"),
            "-" if missing(row.delay_ms) else estimate(row, "delay_ms"),
            over,
        )
    return or_none(table)


def order_table(rounds: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The same pieces in other orders."""
    table = titled(
        "The same pieces in other orders",
        "Zone",
        "Order",
        "Shifts",
        "Walk\nm",
        "Hours\nabout",
        "Leak passed after\nhours, in the mean",
        left=2,
    )
    before = ""
    for row in rounds.itertuples():
        zones = ", ".join(str(names.get(z, z)) for z in str(row.cell_ids).split(", "))
        table.add_row(
            Text("" if zones == before else zones),
            ROUND_WORDS[row.order],
            whole(row.shifts_count),
            whole(row.walked_m),
            brief(row.work_h),
            brief(row.found_h),
        )
        before = zones
    return or_none(table)


def print_survey(found: Surveyed, names: pd.Series[Any], paths: Sequence[Path]) -> None:
    """The whole printed output of `district survey`; `names` of the zones by cell_id."""
    walk = found.walk
    print_lines([walk.caution])
    print_lines([f"- {line}" for line in walk.said])
    if len(walk.legs):
        show(shift_table(walk.shifts, names), order_table(walk.rounds, names))
        show(leg_table(walk.legs), set_up_table(walk.set_ups))
        print_lines(
            [
                "From-to: metres from the stretch's western end (southern, where it runs due "
                "north), in the direction walked. There: the walk from the leg before. Passed: "
                "share of all flow looked for. Delay: for a leak at its likeliest place, by the "
                "speed of sound. * There: a straight line; apart: farther than leak noise usually "
                "carries; hours: more than a shift."
            ]
        )
    print_lines(["This rests on:", *(f"- {line}" for line in walk.basis.assumptions)])
    print_lines([f"- {line}" for line in walk.basis.limits])
    print_lines([f"Written: {', '.join(str(p) for p in paths)}" if paths else ""])
