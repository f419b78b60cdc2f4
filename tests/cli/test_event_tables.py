from __future__ import annotations

import pandas as pd
import pytest
from rich.table import Table

from district.cli import event_tables as tables
from district.cli import layout
from tests.cli.happened import (
    ALL,
    BOILER,
    HALL,
    LEAK,
    NAMES,
    NOTHING,
    REPAIR,
    SHUT,
    WET,
    happened,
)


def rows_of(table: Table, capsys: pytest.CaptureFixture[str]) -> list[list[str]]:
    layout.show(table)
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) <= 100 for line in lines)
    (head,) = (n for n, line in enumerate(lines) if line.startswith(" ──"))
    return [line.replace("\u00a0", " ").split("  ") for line in lines[head + 1 :] if line]


def test_events_to_act_on_stand_in_order_with_what_they_likely_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rows = rows_of(tables.acting_table(ALL, NAMES, currency="GBP"), capsys)
    said = [" ".join(filter(None, (part.strip() for part in row))) for row in rows]
    assert said[0] == "Hall, Upper building flow > 99 % 2025-03-04 0.50 1 200 960"
    assert said[1] == "0.45–0.55 1 100–1 300 880–1 040"
    assert said[2] == "Upper leak 92 % 2025-03-04 0.50 1 200 960"
    # The sensor's building is known from its own check.
    assert said[4] == "W1, Hall wet floor 2025-03-05 - - -"
    assert len(said) == 5


def test_of_many_events_the_first_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    rows = rows_of(tables.acting_table(ALL, NAMES, currency="GBP", shown=1), capsys)
    assert len(rows) == 2
    assert tables.more(3, 1, "event", "a.csv") == "... and 2 more events in a.csv."
    assert tables.more(1, 1, "event", "a.csv") == ""


def test_without_events_the_table_says_none(capsys: pytest.CaptureFixture[str]) -> None:
    for table in (
        tables.acting_table(NOTHING, NAMES, currency="GBP"),
        tables.dated_table(NOTHING, NAMES, currency="GBP"),
    ):
        assert rows_of(table, capsys) == [[" none"]]


def test_limits_of_the_start_and_days_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    layout.show(tables.dated_table(ALL, NAMES, currency="GBP"))
    said = " ".join(capsys.readouterr().out.split())
    assert "2025-03-04 28.0 0.50" in said
    assert "2025-03-03 to 28.0–29.0 0.45–0.55" in said
    assert "2025-03-05 27 - - -" in said


def test_what_asks_for_nothing_stands_with_its_state(capsys: pytest.CaptureFixture[str]) -> None:
    table = tables.others_table(ALL, NAMES, currency="GBP")
    assert table.row_count == 1
    layout.show(table)
    said = capsys.readouterr().out
    assert "repaired" in said
    assert "P7" in said
    assert "2025-03-20" in said


def test_repairs_stand_with_their_drop_the_latest_first(
    capsys: pytest.CaptureFixture[str],
) -> None:
    later = {**REPAIR, "repaired": pd.Timestamp("2025-03-25"), "place_id": "M1"}
    both = happened(repairs=(REPAIR, later), buildings=(HALL,))
    rows = rows_of(tables.repairs_table(both, NAMES), capsys)
    assert [row[0].strip() for row in rows if row[0].strip()] == ["Hall", "Lower"]
    assert tables.repairs_table(both, NAMES, shown=1).row_count == 1
    assert "partly" in " ".join(rows[0])


def test_visits_begin_with_the_dearest_and_leave_out_what_may_be_a_process() -> None:
    assert list(tables.visits(ALL.building_checks)["device_id"]) == ["M1", "M2"]
    assert tables.buildings_table(ALL, NAMES, currency="GBP").row_count == 2
    assert tables.buildings_table(ALL, NAMES, currency="GBP", shown=1).row_count == 1
    assert tables.visits(happened(buildings=(BOILER,)).building_checks).empty


def test_places_are_called_as_people_call_them() -> None:
    known = tables.buildings_of(ALL)
    assert known == {"M1": "Hall", "M3": "Boiler House", "W1": "Hall"}
    (event,) = happened({**WET, "place_id": "W9"}).events.itertuples()
    assert tables.place_name(event, known, NAMES) == "W9, Lower"
    (meter,) = happened({**LEAK, "place_kind": "building", "place_id": "M2"}).events.itertuples()
    assert tables.place_name(meter, known, NAMES) == "M2, Upper"
    first, second = ALL.sensor_checks.itertuples()
    assert tables.sensor_name(first, NAMES) == "W1 (wet floor, Hall)"
    assert tables.sensor_name(second, NAMES) == "W2 (wet floor, Upper)"
    assert list(tables.not_sound(ALL.sensor_checks)["sensor_id"]) == ["W1"]
    assert SHUT["device_id"] not in known


@pytest.mark.parametrize(
    ("share", "said"), [(1.0, "> 99 %"), (0.617, "62 %"), (0.004, "< 1 %"), (0.99, "99 %")]
)
def test_no_probability_is_said_to_be_certain(share: float, said: str) -> None:
    assert tables.kind_name("growing_leak", share) == f"growing leak {said}"
    assert tables.kind_name("wet_floor", None) == "wet floor"
