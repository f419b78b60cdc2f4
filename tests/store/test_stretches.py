from __future__ import annotations

from zoneinfo import ZoneInfo

import pandas as pd

from district.store import KeptPart, Manifest
from district.store.stretches import stretches

ZURICH = ZoneInfo("Europe/Zurich")


def part(month: str, first: str, last: str, key: str = "") -> KeptPart:
    """A part whose readings run from one time to another, UTC."""
    ends = [round(pd.Timestamp(t, tz="UTC").timestamp() * 1e6) for t in (first, last)]
    return KeptPart(0, month, key or f"{first}-{last}", *ends)


def found(*parts: KeptPart, zone: ZoneInfo = ZURICH) -> dict[str, list[str]]:
    own = stretches(Manifest("mark", (), parts, ()), zone)
    return {s.name: [p.key for p in s.parts] for s in own}


def test_nothing_stored_has_no_stretch() -> None:
    assert found() == {}
    assert found(KeptPart(0, "2025-01", "empty", 0, -1)) == {}


def test_a_month_holds_its_parts_and_those_that_reach_into_it() -> None:
    parts = [
        part("2025-01", "2025-01-21", "2025-01-31 22:00", "january"),
        part("2025-02", "2025-01-31 22:30", "2025-02-10", "february"),
        part("2025-02", "2025-02-12", "2025-02-20", "later"),
    ]
    assert found(*parts) == {
        "2025-01": ["january", "february"],
        "2025-02": ["february", "later"],
    }
    assert found(*reversed(parts)) == found(*parts)


def test_a_part_that_begins_where_a_month_ends_is_not_of_it() -> None:
    parts = [
        part("2025-01", "2025-01-21", "2025-01-31 23:00", "january"),
        part("2025-02", "2025-01-31 23:00", "2025-02-10", "february"),
    ]
    # The last hour of January, UTC, is the first of February by this clock; what ends there may
    # be a sample of that very moment.
    assert found(*parts) == {"2025-01": ["january"], "2025-02": ["january", "february"]}


def test_whole_months_of_local_dates() -> None:
    (own,) = stretches(
        Manifest("mark", (), (part("2024-02", "2024-02-11", "2024-02-12"),), ()), ZURICH
    )
    assert [str(d.date()) for d in own.dates[[0, -1]]] == ["2024-02-01", "2024-02-29"]
    assert len(own.dates) == 29


def test_months_that_are_only_passed_over_are_one() -> None:
    long = part("2025-03", "1970-01-05", "2025-03-09")
    assert list(found(long)) == ["1970-01-2025-02", "2025-03"]


def test_across_the_line_of_dates() -> None:
    late = part("2025-02", "2025-02-01 03:00", "2025-02-01 05:00")
    assert list(found(late, zone=ZoneInfo("Pacific/Pago_Pago"))) == ["2025-01"]
    early = part("2025-01", "2025-01-31 12:00", "2025-01-31 13:00")
    assert list(found(early, zone=ZoneInfo("Pacific/Kiritimati"))) == ["2025-02"]


def test_large_months_come_in_thirds_of_local_dates() -> None:
    parts = [
        part("2025-01", "2025-01-01", "2025-01-10 23:00", "a"),
        part("2025-01", "2025-01-21", "2025-01-31 23:00", "b"),
        part("2025-02", "2025-02-01", "2025-02-10", "c"),
    ]
    own = stretches(Manifest("mark", (), tuple(parts), ()), ZURICH, large={"2025-01"})
    assert {s.name: [p.key for p in s.parts] for s in own} == {
        "2025-01-01": ["a"],
        "2025-01-11": ["a"],
        "2025-01-21": ["b"],
        "2025-02": ["b", "c"],
    }
    assert [len(s.dates) for s in own] == [10, 10, 11, 28]
