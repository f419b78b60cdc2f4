from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from district.ledger.on_record import COLUMNS, repairs_on_record, where_of
from district.schema.inputs import WORKS
from tests.ledger.made import entries, network, of

LONDON = ZoneInfo("Europe/London")


def works(*rows: tuple[str, str, str, str]) -> pd.DataFrame:
    named = [{"start": s, "end": e, "kind": k, "place_id": p} for s, e, k, p in rows]
    return of(WORKS, *named)


def told(**cells: Any) -> dict[str, Any]:
    return {"record": "repair", "place_id": "P1", "time": "2025-07-14T08:30Z"} | cells


def test_places_have_the_pipe_of_the_layer_and_the_zone() -> None:
    where = where_of(network())
    assert {p: where.pipe.get(p, "") for p in ("P1", "P1/2", "S1", "V1", "B1")} == {
        "P1": "P1", "P1/2": "P1", "S1": "P2", "V1": "", "B1": "",
    }  # fmt: skip
    assert {where.cell[p] for p in ("P1", "P1/1", "S1", "V1", "B1", "A", "Z1")} == {"A"}
    assert where.services == {"S1"}


def test_repairs_carry_what_crews_told_of_them_on_their_local_day() -> None:
    # Half past midnight in summer is the day before by UTC.
    done = works(
        ("2025-07-13T23:30Z", "2025-07-14T10:00Z", "repair", "P1"),
        ("2025-05-01T10:00Z", "2025-05-01T12:00Z", "flushing", "P1"),
        ("2025-05-02T10:00Z", "2025-05-02T12:00Z", "repair", "S1"),
    )
    crew = entries(
        told(leak_kind="joint", cost_currency=500.0, job_id="J10", size_l_s=0.4),
        told(cost_currency=140.0, job_id="J9"),
        told(record="leak_found", cost_currency=9.0),
        told(time="2025-07-16T08:30Z", cost_currency=9.0),
    )
    found = repairs_on_record(done, crew, where=where_of(network()), clock=LONDON)
    assert tuple(found.columns) == COLUMNS
    service, pipe = found.to_dict("records")
    assert (service["leak_kind"], service["pipe_id"]) == ("service", "P2")
    assert pd.isna(service["repair_currency"])
    assert (pipe["first"], pipe["repaired"]) == (pd.Timestamp("2025-07-14"),) * 2
    assert (pipe["leak_kind"], pipe["repair_currency"], pipe["judged_l_s"]) == ("joint", 640.0, 0.4)
    assert pipe["job_ids"] == "J9, J10"


def test_a_repair_that_ended_at_midnight_was_done_the_day_before() -> None:
    # The end of 14 July by the clock of London, as a repair without an end is filled in.
    done = works(("2025-07-14T08:00Z", "2025-07-14T23:00Z", "repair", "P1"))
    (row,) = repairs_on_record(done, entries(), where=where_of(network()), clock=LONDON).to_dict(
        "records"
    )
    assert (row["first"], row["repaired"]) == (pd.Timestamp("2025-07-14"),) * 2


def test_without_repairs_there_are_columns() -> None:
    found = repairs_on_record(works(), entries(), where=where_of(network()), clock=LONDON)
    assert (len(found), tuple(found.columns)) == (0, COLUMNS)
