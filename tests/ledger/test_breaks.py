from __future__ import annotations

import pandas as pd

from district.ledger.breaks import SAME_BREAK_D, breaks_with_repairs, event_of
from district.schema.columns import check as table_check
from district.schema.inputs import BREAKS
from tests.ledger.made import breaks, check, checks, repair, repairs


def pipes(frame: pd.DataFrame) -> list[tuple[str, str, str]]:
    rows = zip(frame["pipe_id"], frame["date"], frame["kind"], strict=True)
    return [(p, f"{d:%Y-%m-%d}", k) for p, d, k in rows]


def test_a_repaired_leak_is_a_break_of_its_pipe() -> None:
    known = breaks(("2019-02-03", "P3"))
    done = repairs(repair("P1"), repair("P2", leak_kind="service"), repair("P4", leak_kind="joint"))
    found = breaks_with_repairs(known, done, checks())
    assert pipes(found)[1:] == [
        ("P1", "2025-05-14", "main"), ("P2", "2025-05-14", "service"), ("P4", "2025-05-14", "main"),
    ]  # fmt: skip
    assert len(known) == 1
    tidy, findings = table_check(BREAKS, found, source="x")
    assert (len(tidy), findings) == (4, ())


def test_no_break_is_counted_twice() -> None:
    on_record = breaks(("2025-05-10", "P1"))
    assert breaks_with_repairs(on_record, repairs(repair("P1")), checks()) is on_record
    apart = breaks_with_repairs(on_record, repairs(repair("P1", "2025-08-01")), checks())
    assert len(apart) == 2
    last = pd.Timestamp("2025-05-14") + pd.Timedelta(days=SAME_BREAK_D)
    twice = repairs(repair("P1"), repair("P1", f"{last:%Y-%m-%d}"))
    assert len(breaks_with_repairs(breaks(), twice, checks())) == 1


def test_repairs_of_one_event_on_one_pipe_are_one_break() -> None:
    done = repairs(repair("P1"), repair("P1", "2025-08-06"), repair("P2", "2025-08-06"))
    told = checks(check("partly"), check(day="2025-08-06"), check(place="P2", day="2025-08-06"))
    assert event_of(done, told) == ["E-A-1"] * 3
    found = breaks_with_repairs(breaks(), done, told)
    assert pipes(found) == [("P1", "2025-05-14", "main"), ("P2", "2025-08-06", "main")]


def test_what_was_mended_indoors_or_on_no_pipe_is_no_break() -> None:
    done = repairs(repair("B1"), repair("P1", leak_kind="indoors"))
    assert breaks_with_repairs(breaks(), done, checks()).empty
