"""A morning typed by hand, with awkward names."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pandas as pd

from district.errors import Finding
from district.results import Basis, Events, Morning
from district.watch import compare
from tests.watch.rows import check, event, events_of, now, places, repair, sensor

SCRIPT = "<script>alert(1)</script>"
READ = datetime(2031, 3, 31, 22, 45, tzinfo=UTC)


def morning(*, first: bool = False, found: Events | None = None, **changes: Any) -> Morning:
    """Two leaks, one of them new, a building, a repair and a sensor; awkward names."""
    named = {"reason": f"rose \x07 & {SCRIPT}", "event_id": "=E-1"}
    held = events_of((event("Z2", "2031-02-01", size=3.0),))
    events = found or events_of(
        (event(**named), event("Z2", "2031-02-01", size=3.0)),
        (check(),),
        (repair("partly"),),
        (sensor(),),
    )
    known = places()
    known["place"] = known["place"].str.replace("Upper", f"Upper {SCRIPT} \ufffe")
    args: dict[str, Any] = {"last": date(2031, 3, 30), "edition_utc": pd.Timestamp(READ)}
    _, told = compare(None, now(held, known=known), known, **args)
    args |= {"last": date(2031, 3, 31)}
    rows, kept = compare(None if first else told, now(events, known=known), known, **args)
    return Morning(
        name=f"Ž & {SCRIPT}",
        currency="EUR",
        timezone="Europe/Vienna",
        morning=rows,
        events=events,
        basis=Basis(date(2031, 1, 1), date(2031, 3, 31), (), ("The test is set so.",), ("Thin.",)),
        findings=(Finding("warning", "a.csv", got=SCRIPT, expected="b", remedy="Do"),),
        told=kept,
        before=None if first else date(2031, 3, 30),
        readings_to=READ,
        edition=READ,
        **changes,
    )


def no_morning() -> Morning:
    """Nothing to tell."""
    return morning(found=events_of(), first=True)
