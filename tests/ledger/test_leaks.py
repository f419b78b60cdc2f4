from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.ledger.leaks import ledger_of
from district.ledger.on_record import where_of
from district.schema.ledger_tables import LEDGER
from tests.ledger.made import (
    breaks,
    check,
    checks,
    event,
    events,
    network,
    repair,
    repairs,
    surveys,
)

NO_SURVEY, NO_BREAK = surveys(), breaks()


def made(
    done: pd.DataFrame,
    told: pd.DataFrame,
    known: pd.DataFrame,
    seen: pd.DataFrame = NO_SURVEY,
    past: pd.DataFrame = NO_BREAK,
) -> list[dict[str, Any]]:
    table = ledger_of(done, told, known, seen, past, where=where_of(network()))
    assert tuple(table.columns) == LEDGER.names()
    assert table["leak_id"].is_unique
    return list(table.to_dict("records"))


def test_a_leak_in_its_parts_of_time_flow_water_and_money() -> None:
    # Heard two days after it began on 4 April, found by a survey on the 16th, mended on 14 May.
    (row,) = made(
        repairs(repair(leak_kind="joint", repair_currency=640.0, job_ids="J1")),
        checks(check()),
        events(event(end="2025-05-14")),
        surveys(
            ("2025-04-16", "P1", True), ("2025-03-01", "P1", True), ("2025-04-20", "P2", False)
        ),
    )
    assert (row["found"], row["started"]) == (
        pd.Timestamp("2025-04-16"),
        pd.Timestamp("2025-04-04"),
    )
    assert (row["awareness_d"], row["location_d"], row["repair_d"]) == (2.0, 10.0, 28.0)
    # The nights run are the days between and the first night itself.
    assert row["run_d"] == 2 + 10 + 28 + 1
    assert (row["before_l_s"], row["after_l_s"], row["verdict"]) == (0.5, 0.0, "verified")
    assert (row["kind"], row["state"], row["job_ids"]) == ("joint", "repaired", "J1")
    # 0.5 L/s for 41 days: 43.2 m3 a day.
    assert row["volume_m3"] == pytest.approx(0.5 * 86.4 * 41)
    assert row["water_currency"] == pytest.approx(0.8 * row["volume_m3"])
    assert row["repair_currency"] == 640.0


def test_where_nobody_wrote_down_when_it_was_found_two_parts_are_not_told() -> None:
    (row,) = made(repairs(repair()), checks(check()), events(event(end="2025-05-14")))
    assert (row["found"], row["awareness_d"]) == (pd.Timestamp("2025-05-14"), 2.0)
    assert pd.isna(row["location_d"])
    assert pd.isna(row["repair_d"])
    assert pd.isna(row["repair_currency"])


def test_two_repairs_of_one_event_at_one_place_are_one_leak() -> None:
    (row,) = made(
        repairs(repair(repair_currency=100.0), repair(day="2025-08-06", repair_currency=50.0)),
        checks(check("partly", drop=0.2), check(day="2025-08-06", drop=0.3)),
        events(event(end="2025-08-06")),
    )
    assert (row["repairs_count"], row["repair_currency"]) == (2.0, 150.0)
    assert (row["verdict"], row["state"]) == ("verified", "repaired")
    assert (row["found"], row["repaired"]) == (
        pd.Timestamp("2025-05-14"), pd.Timestamp("2025-08-06"),
    )  # fmt: skip


def test_an_event_mended_at_two_places_shares_its_water_by_what_each_took_off() -> None:
    known = events(event(end="2025-05-20"))
    done = repairs(repair("P1"), repair("P2", "2025-05-20"))
    rows = made(
        done,
        checks(check("partly", drop=0.3), check(place="P2", day="2025-05-20", drop=0.1)),
        known,
    )
    by_place = {row["place_id"]: row for row in rows}
    assert by_place["P1"]["state"] == "partly"
    whole = float(known["volume_m3"].iloc[0])
    assert by_place["P1"]["volume_m3"] == pytest.approx(0.75 * whole)
    assert sum(row["volume_m3"] for row in rows) == pytest.approx(whole)
    assert sum(row["volume_m3_high"] for row in rows) == pytest.approx(
        float(known["volume_m3_high"].iloc[0])
    )
    unknown = made(
        done, checks(check(drop=0.0), check(place="P2", day="2025-05-20", drop=0.0)), known
    )
    assert {row["volume_m3"] for row in unknown} == {whole / 2}


def test_a_repair_after_which_no_drop_is_seen_takes_none_of_the_event_s_water() -> None:
    rows = made(repairs(repair()), checks(check("not_seen", drop=0.0)), events(event()))
    stands = {row["state"]: row for row in rows}
    assert set(stands) == {"running", "repaired"}
    assert pd.isna(stands["repaired"]["volume_m3"])
    assert stands["repaired"]["verdict"] == "not_seen"
    assert stands["running"]["volume_m3"] > 0


def test_a_repair_without_a_meter_has_no_water() -> None:
    (row,) = made(repairs(repair()), checks(), events())
    assert (row["state"], row["verdict"], row["event_id"]) == ("repaired", "", "")
    assert pd.isna(row["volume_m3"])


def test_a_leak_behind_a_building_s_meter_is_indoors() -> None:
    indoors = event("E-B1-1", end="2025-05-14", place_id="B1", place_kind="building",
                    kind="building_flow")  # fmt: skip
    (row,) = made(
        repairs(repair("B1")),
        checks(check(place="B1", place_id="B1", event_id="E-B1-1")),
        events(indoors),
    )
    assert (row["kind"], row["place_id"], row["cell_id"]) == ("indoors", "B1", "A")


def test_breaks_on_record_are_leaks_once() -> None:
    past = breaks(("2025-05-10", "P1"), ("2024-01-02", "P1"), ("2024-01-02", "P1"))
    rows = made(repairs(repair()), checks(check()), events(event(end="2025-05-14")), past=past)
    assert [row["state"] for row in rows] == ["repaired", "recorded", "recorded"]
    assert rows[0]["kind"] == "main"  # as the break of that month says
    assert {row["cell_id"] for row in rows} == {"A"}


def test_what_was_found_and_not_mended_and_what_only_meters_tell_of() -> None:
    rows = made(
        repairs(repair()),
        checks(check()),
        events(
            event(end="2025-05-14"),
            event("E-A-2", "2025-06-01"),
            event("E-A-3", "2025-02-01", "2025-02-09", state="ended"),
            event("E-A-4", "2025-02-01", kind="use"),
            event("E-A-5", "2025-02-01", state="explained"),
        ),
        surveys(("2025-07-01", "P2", True), ("2025-07-09", "P2", True), ("2025-06-01", "P1", True)),
    )
    stands = {row["leak_id"]: row["state"] for row in rows}
    assert stands == {
        "L-P1-2025-05-14": "repaired", "L-P2-2025-07-01": "found", "L-P1-2025-06-01": "found",
        "E-A-2": "running", "E-A-3": "ended",
    }  # fmt: skip
    dated = [row["found"] if not pd.isna(row["found"]) else row["started"] for row in rows]
    assert dated == sorted(dated, reverse=True)


def test_of_nothing_there_is_an_empty_ledger() -> None:
    assert made(repairs(), checks(), events()) == []


def test_repairs_of_one_place_without_an_event_are_one_leak_within_a_month() -> None:
    rows = repairs(
        repair(day="2025-05-14"),
        repair(day="2025-05-15"),
        repair("P2", "2025-05-15"),
        repair(day="2025-08-01"),
    )
    counted = {row["leak_id"]: row["repairs_count"] for row in made(rows, checks(), events())}
    assert counted == {"L-P1-2025-05-15": 2, "L-P2-2025-05-15": 1, "L-P1-2025-08-01": 1}
