"""What makes rates doubtful is told before the list; what is usual is not."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from district.plan.doubts import doubts
from district.plan.failure_rates import pipe_rates
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of

PIPES = pipes_of({"pipe_id": "A"}, {"pipe_id": "GONE", "status": "abandoned"})
YEARLY = [(f"{year}-06-01", "A") for year in range(2000, 2020)]


def told(*rows: Any, pipes: Any = PIPES, year: int = 2020, **renew: Any) -> tuple[str, ...]:
    history = history_of(pipes, breaks_of(*rows), **renew)
    return doubts(history, settings=settings_of(**renew), year=year)


def test_a_record_that_fits_its_pipes_raises_no_doubt() -> None:
    assert told(*YEARLY) == ()
    assert told() == ()
    # On a pipe taken out at an unknown time: says nothing of those in use.
    assert told(*YEARLY, *(("2010-06-01", "GONE") for _ in range(9))) == ()


def test_breaks_on_no_pipe_make_all_rates_too_low() -> None:
    # Whether their pipe_id is unknown or their place lies far from all pipes.
    rows = [
        *YEARLY,
        ("2010-06-01", "X"),
        *[("2011-06-01", None)] * 4,
        ("2012-06-01", "X", "service"),
    ]
    assert told(*rows) == (
        "5 of 25 breaks of mains on record are on no pipe of the map, or have no date, "
        "20 %: by as much all rates, and what renewal saves, are told too low.",
    )
    history = history_of(PIPES, breaks_of(*rows))
    assert history.left_out == {"on no pipe of the layer whose time in the ground is known": 6}
    limits = pipe_rates(history, settings=settings_of(), year=2020).basis.limits
    assert any(line.startswith("6 breaks on record not counted") for line in limits)


def test_breaks_without_a_date_count_as_lost() -> None:
    rows = [*YEARLY, *[("2010-06-01", "A")] * 4]
    table = breaks_of(*rows)
    table.loc[table.index[-4:], "date"] = pd.NaT
    history = history_of(PIPES, table)
    assert history.left_out == {"without a date": 4}
    assert history.lost_count == 4
    # Where no break has a date the rates are published ones: these are not too low.
    nothing = table.assign(date=pd.NaT)
    unsaid: dict[str, Any] = {"record_dates": ()}
    bare = history_of(PIPES, nothing, **unsaid)
    assert doubts(bare, settings=settings_of(**unsaid), year=2020) == ()
    limits = pipe_rates(bare, settings=settings_of(**unsaid), year=2020).basis.limits
    assert any(line.startswith("No break on record has a date: the rates") for line in limits)
    # One of a service is left out too, but no rate of a main is the lower for it.
    table.loc[table.index[-1:], "kind"] = "service"
    assert history_of(PIPES, table).lost_count == 3
    assert history_of(PIPES, table).left_out == {"without a date": 4}


def test_a_record_said_to_begin_long_before_its_first_break() -> None:
    # 20 breaks, all in the last 20 of 100 years: by chance 0.2 to the power 20.
    assert told(*YEARLY, record_dates=(date(1900, 1, 1), date(2019, 12, 31)))[0].startswith(
        "The record is said to begin on 1900-01-01, yet its first break is of 2000-06-01: by "
        "chance fewer than 1 record of 1 000 is quiet for so long."
    )


def test_a_record_said_to_run_long_after_its_last_break() -> None:
    said = told(*YEARLY, record_dates=(date(2000, 1, 1), date(2039, 12, 31)), year=2040)
    assert said[0].startswith(
        "The record is said to run until 2039-12-31, yet its last break is of 2019-06-01:"
    )
    # Where only the year is known, all of one may stand on its first day, or in its middle.
    pairs = [(f"{year}-06-15", pipe) for year in range(2000, 2020) for pipe in "ABCDEFGHIJ"]
    many = pipes_of(*({"pipe_id": pipe} for pipe in "ABCDEFGHIJ"))
    assert told(*pairs, pipes=many) == ()
    # Three breaks may well leave half a record quiet: by chance 1 in 8.
    few = told(*YEARLY[:3], record_dates=(date(2000, 1, 1), date(2005, 12, 31)), year=2006)
    assert few == ()


def test_a_plan_long_after_its_record() -> None:
    assert told(*YEARLY, year=2025) == ()
    assert told(*YEARLY, year=2060)[0] == (
        "The plan is of 2060, 40 years after the record of breaks ends: all mains are taken to age "
        "until then, as if none were renewed."
    )
