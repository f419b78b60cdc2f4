from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from district.check.breaks import check_breaks
from district.check.wording import EACH
from district.results import Inputs

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


@pytest.fixture
def dated(inputs: Inputs, edit: Change) -> Inputs:
    """A2 lay from 1962 to 1999, A3 is of 1975."""
    inputs = edit(inputs, "pipes", "A2", installed_year=1962.0, removed_year=1999.0)
    inputs = edit(inputs, "pipes", "A2", status="abandoned")
    inputs = edit(inputs, "pipes", "A3", installed_year=1975.0)
    return replace(inputs, breaks=inputs.breaks.iloc[:0])


def broken(inputs: Inputs, add: Change, *rows: tuple[str, str]) -> Inputs:
    return add(inputs, "breaks", *[{"date": date, "pipe_id": pipe} for date, pipe in rows])


def test_breaks_within_the_life_of_their_pipe_are_let_be(dated: Inputs, add: Change) -> None:
    rows = (("1962-01-02", "A2"), ("1999-12-30", "A2"), ("2024-03-01", "A3"), ("1931-03-01", "B2"))
    assert check_breaks(broken(dated, add, *rows)) == []


def test_a_break_before_the_pipe_was_laid(dated: Inputs, add: Change, says: Says) -> None:
    found = check_breaks(broken(dated, add, ("1974-12-31", "A3")))
    assert says(found) == [
        "warning: breaks.csv, row of 1974-12-31 on A3, column date: got 1974, before the pipe was "
        "laid in 1975, expected a date while it lay there, by installed_year of pipes.geojson. "
        "Correct the date, the pipe_id (ids may have been used again) or the year of the pipe; "
        "until then this break is not counted."
    ]


def test_a_break_after_the_pipe_was_taken_out(dated: Inputs, add: Change, says: Says) -> None:
    found = check_breaks(broken(dated, add, ("2000-01-01", "A2")))
    assert says(found) == [
        "warning: breaks.csv, row of 2000-01-01 on A2, column date: got 2000, after the pipe was "
        "taken out of use in 1999, expected a date while it lay there, by removed_year of "
        "pipes.geojson. Correct the date, the pipe_id (another pipe may lie there now) or the year "
        "of the pipe; until then this break is not counted."
    ]


def test_many_end_in_one_sentence_whatever_their_order(dated: Inputs, add: Change) -> None:
    rows = [(f"19{year}-05-01", "A3") for year in range(40, 60)]
    found = check_breaks(broken(dated, add, *rows))
    assert len(found) == EACH + 1
    assert found[-1].got == "8 more such rows"
    assert found == check_breaks(broken(dated, add, *rows[::-1]))


def test_years_of_pipes_that_cannot_be(dated: Inputs, edit: Change, says: Says) -> None:
    odd = edit(dated, "pipes", "A2", installed_year=2001.0)
    odd = edit(odd, "pipes", "B2", removed_year=2010.0)
    odd = edit(odd, "pipes", "B3", status="abandoned")
    assert says(check_breaks(odd)) == [
        "warning: pipes.geojson, pipe A2, column removed_year: got 1999, before it was laid in "
        "2001, expected a year not before installed_year. Correct one of the two; until then it "
        "tells nothing of how pipes break.",
        "warning: pipes.geojson, pipe B2, column removed_year: got a year, though status is "
        "in_use, expected nothing for a pipe in use. Empty it, or correct status; until then it "
        "counts as in use.",
        "note: pipes.geojson, pipe B3, column removed_year: got nothing, and the status is "
        "abandoned, expected the year it was taken out of use. Fill it in where it is known: "
        "without it the pipe cannot tell how often pipes like it break.",
    ]


def test_nothing_is_written_to(dated: Inputs, add: Change) -> None:
    given = broken(dated, add, ("1974-12-31", "A3"), ("2000-01-01", "A2"))
    before: tuple[Any, ...] = (given.breaks.copy(), given.pipes.copy())
    check_breaks(given)
    assert given.breaks.equals(before[0])
    assert given.pipes.equals(before[1])
