"""Breaks against the lives of their pipes, and the years of the pipes against each other."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.check.wording import file_of, shortened
from district.errors import Finding
from district.results import Inputs
from district.words import natural_key, places


def check_breaks(inputs: Inputs) -> list[Finding]:
    """Breaks before their pipe was laid or after it was taken out of use, and pipes whose years
    cannot be.

    A break in the very year is neither. Rows are named by date: row numbers would change when the
    file is sorted.
    """
    return [*_outside(inputs), *_lives(inputs)]


def _outside(inputs: Inputs) -> list[Finding]:
    breaks = inputs.breaks.dropna(subset=["date", "pipe_id"])
    lives = inputs.pipes.drop_duplicates("pipe_id").set_index("pipe_id")
    year = breaks["date"].dt.year
    found: list[Finding] = []
    for column, outside, said, mend in (
        ("installed_year", year.lt, "before", "ids may have been used again"),
        ("removed_year", year.gt, "after", "another pipe may lie there now"),
    ):
        known = breaks["pipe_id"].map(lives[column])
        rows = breaks.assign(year=known)[outside(known)].itertuples()
        event = "was laid" if said == "before" else "was taken out of use"
        found += shortened([
            Finding(
                "warning",
                file_of(inputs, "breaks"),
                f"row of {row.date:%Y-%m-%d} on {row.pipe_id}",
                "date",
                got=f"{row.date.year}, {said} the pipe {event} in {row.year:.0f}",
                expected=f"a date while it lay there, by {column} of {file_of(inputs, 'pipes')}",
                remedy=f"Correct the date, the pipe_id ({mend}) or the year of the pipe; until "
                "then this break is not counted",
            )
            for row in sorted(rows, key=lambda r: (r.date, natural_key(str(r.pipe_id))))
        ])  # fmt: skip
    return found


def _lives(inputs: Inputs) -> list[Finding]:
    """Pipes taken out before they were laid, in use though taken out, or out of use since nobody
    knows when."""
    pipes, file = inputs.pipes, file_of(inputs, "pipes")
    laid, removed = pipes["installed_year"], pipes["removed_year"]
    backwards = [
        Finding(
            "warning",
            file,
            f"pipe {row.pipe_id}",
            "removed_year",
            got=f"{row.removed_year:.0f}, before it was laid in {row.installed_year:.0f}",
            expected="a year not before installed_year",
            remedy="Correct one of the two; until then it tells nothing of how pipes break",
        )
        for row in _by_id(pipes[removed < laid])
    ]
    in_use = pipes[removed.notna() & (pipes["status"] == "in_use")]
    undated = pipes[removed.isna() & (pipes["status"] == "abandoned")]
    found = shortened(backwards)
    if len(in_use):
        found.append(
            Finding(
                "warning",
                file,
                places("pipe", in_use["pipe_id"]),
                "removed_year",
                got="a year, though status is in_use",
                expected="nothing for a pipe in use",
                remedy="Empty it, or correct status; until then it counts as in use",
                count=len(in_use),
            )
        )
    if len(undated):
        found.append(
            Finding(
                "note",
                file,
                places("pipe", undated["pipe_id"]),
                "removed_year",
                got="nothing, and the status is abandoned",
                expected="the year it was taken out of use",
                remedy="Fill it in where it is known: without it the pipe cannot tell how often "
                "pipes like it break",
                count=len(undated),
            )
        )
    return found


def _by_id(pipes: pd.DataFrame) -> list[Any]:
    return sorted(pipes.itertuples(), key=lambda row: natural_key(str(row.pipe_id)))
