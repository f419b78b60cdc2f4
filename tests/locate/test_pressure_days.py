"""Days compared, typed by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.locate.pressure_days import days_wanted, windows
from district.locate.spots import Sought
from district.schema.columns import empty
from district.schema.event_tables import EVENTS

LEAK = Sought(
    "E1", "Z", "leak", 1.0, 0.9, 1.1, date(2031, 5, 10), date(2031, 5, 9), date(2031, 5, 11)
)
KNOWN = pd.date_range("2031-04-01", "2031-05-20", freq="D")


def event(event_id: str, start: str, *, kind: str = "leak", end: str | None = None) -> dict:
    when = dict.fromkeys(("start", "start_low", "start_high"), pd.Timestamp(start))
    return {
        "event_id": event_id, "place_kind": "zone", "place_id": "Z", "cell_id": "Z", "kind": kind,
        "state": "ended" if end else "open", "end": pd.Timestamp(end) if end else pd.NaT, **when,
    }  # fmt: skip


def events(*rows: dict) -> pd.DataFrame:
    return pd.DataFrame(rows).reindex(columns=list(EVENTS.names()))


def test_four_weeks_before_and_what_there_is_after() -> None:
    found = windows(LEAK, empty(EVENTS), KNOWN)
    assert (found.before[0], found.before[-1]) == (
        pd.Timestamp("2031-04-11"), pd.Timestamp("2031-05-08"),
    )  # fmt: skip
    assert (found.after[0], found.after[-1]) == (
        pd.Timestamp("2031-05-12"), pd.Timestamp("2031-05-20"),
    )  # fmt: skip
    assert found.course.tolist() == [0.0] * 28 + [1.0] * 9


def test_the_days_wanted_are_those_compared() -> None:
    table = events(event("E1", "2031-05-10"))
    wanted = days_wanted(table, last=date(2031, 5, 20))
    own = replace(LEAK, start_low=LEAK.start, start_high=LEAK.start)
    found = windows(own, table, KNOWN)
    assert list(wanted) == [*found.before, *found.after]


def test_another_change_of_the_zone_narrows_the_days() -> None:
    other = events(event("E1", "2031-05-10"), event("E0", "2031-04-28", end="2031-05-02"))
    assert windows(LEAK, other, KNOWN).before[0] == pd.Timestamp("2031-05-04")
    later = events(event("E2", "2031-05-17"))
    assert windows(LEAK, later, KNOWN).after[-1] == pd.Timestamp("2031-05-16")


@pytest.mark.parametrize(
    ("start", "said"),
    [("2031-05-10", "another change in the zone"), ("2031-05-07", "1 quiet day before the leak")],
)
def test_too_few_quiet_days_are_said(start: str, said: str) -> None:
    assert said in windows(LEAK, events(event("E0", start)), KNOWN).reason


@pytest.mark.parametrize(
    ("sought", "known", "said"),
    [
        (replace(LEAK, start=None), KNOWN, "it is not known when the leak began."),
        (LEAK, KNOWN[:0], "no day has flows and pressures."),
    ],
)
def test_without_a_start_or_days_the_reason_is_said_once(
    sought: Sought, known: pd.DatetimeIndex, said: str
) -> None:
    found = windows(sought, empty(EVENTS), known)
    assert found.reason == f"The pressures before and after cannot be compared: {said}"


def test_a_growing_leak_is_followed_as_it_grows() -> None:
    found = windows(replace(LEAK, kind="growing_leak"), empty(EVENTS), KNOWN)
    assert found.course[-1] == 1.0
    assert np.diff(found.course[28:]) == pytest.approx(1 / 11)


def test_the_reason_is_told_once() -> None:
    head = "The pressures before and after cannot be compared: "
    unknown = windows(replace(LEAK, start=None), empty(EVENTS), KNOWN)
    assert unknown.reason == head + "it is not known when the leak began."
    assert (
        windows(LEAK, empty(EVENTS), KNOWN[:0]).reason == head + "no day has flows and pressures."
    )
