"""Works on record: where they are and what they explain."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from district.detect.neighbours import cells_at
from district.detect.recorded import CAUSES, Work, by_place, explaining, near, recorded
from district.network import Network

D = pd.Timestamp
Make = Callable[..., pd.DataFrame]


def works(rows: pd.DataFrame, network: Network, clock: str = "UTC") -> tuple[Work, ...]:
    return recorded(rows, network=network, cut_cells=cells_at(network), clock=ZoneInfo(clock))


@pytest.mark.parametrize(
    ("place", "touched"),
    [
        ("V1", {"V1"}),
        ("P3", {"P3", "V3"}),
        ("M2", {"M2", "V1", "V2"}),
        ("X1", {"X1", "V2", "V3"}),
        ("B1", {"B1", "V2"}),
        ("C1", {"C1", "V2"}),
        ("nowhere", {"nowhere"}),
    ],
)
def test_a_work_touches_the_cells_of_its_place(
    network: Network, works_of: Make, place: str, touched: set[str]
) -> None:
    (work,) = works(works_of([("2025-03-01", "2025-03-01", "flushing", place)]), network)
    assert work.places == touched


def test_times_become_local_dates(network: Network, works_of: Make) -> None:
    rows = works_of([("2025-03-01T23:30", "2025-03-02T06:00", "flushing", "V1")])
    (work,) = works(rows, network, "Europe/Athens")
    assert (work.first, work.last) == (D("2025-03-02"), D("2025-03-02"))
    assert work.words() == "flushing at V1 on 2025-03-02"


def test_what_ends_at_midnight_ends_on_the_day_before(network: Network, works_of: Make) -> None:
    # The end of a repair's day, which stands in where its record gives none.
    rows = works_of([("2025-03-01T08:00", "2025-03-02T00:00", "repair", "V1")])
    assert works(rows, network)[0].last == D("2025-03-01")
    rows = works_of([("2025-03-01", "2025-03-01", "repair", "V1")])
    assert works(rows, network)[0].last == D("2025-03-01")


def test_a_missing_end_is_the_same_day(network: Network, works_of: Make) -> None:
    rows = works_of([("2025-03-01", "2025-03-09", "repair", "V1")]).assign(end=pd.NaT)
    assert works(rows, network)[0].last == D("2025-03-01")


@pytest.mark.parametrize(
    ("kind", "start", "last", "expected"),
    [
        ("flushing", "2025-03-10", "2025-03-12", True),
        ("flushing", "2025-03-10", "2025-06-01", False),  # it stayed: flushing is over
        ("flushing", "2025-04-10", "2025-04-12", False),
        ("meter_change", "2025-03-11", "2025-06-01", True),
        ("meter_change", "2025-04-11", "2025-06-01", False),
        ("valve_operation", "2025-03-11", "2025-06-01", False),
        ("repair", "2025-03-11", "2025-03-12", False),
    ],
)
def test_what_a_work_explains(
    network: Network, works_of: Make, kind: str, start: str, last: str, expected: bool
) -> None:
    done = works(works_of([("2025-03-10", "2025-03-12", kind, "V1")]), network)
    told = explaining("V1", done, start=D(start), low=D(start), high=D(start), last=D(last))
    assert (told is not None) is expected
    assert explaining("V2", done, start=D(start), low=D(start), high=D(start), last=D(last)) is None


def test_a_work_on_the_same_days_is_named(network: Network, works_of: Make) -> None:
    done = works(works_of([("2025-03-10", "2025-03-10", "valve_operation", "X1")]), network)
    day = D("2025-03-12")
    assert near("V2", done, CAUSES, low=day, high=day) is done[0]
    assert near("V1", done, CAUSES, low=day, high=day) is None
    assert near("V2", done, ("repair",), low=day, high=day) is None
    later = D("2025-03-20")
    assert near("V2", done, CAUSES, low=later, high=later) is None


def test_works_by_the_places_they_touch(network: Network, works_of: Make) -> None:
    rows = [("2025-03-01", "2025-03-01", "flushing", "M2"), ("2025-03-02", "", "repair", "P3")]
    done = works(works_of([(a, b or a, k, p) for a, b, k, p in rows]), network)
    found = by_place(done)
    assert found["V1"] == found["M2"] == (done[0],)
    assert found["V3"] == (done[1],)
    assert "V4" not in found
