from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.cli import say
from district.errors import Finding
from district.results import Balance, Basis
from district.schema import Table, empty
from district.schema.annual_tables import ECONOMICS, LOSS_GAPS
from district.schema.outputs import (
    ANNUAL,
    DAYS,
    INDICATORS,
    NIGHTS,
    ZONES,
)
from district.schema.reconciled import METER_CHECKS, ZONE_CHECKS


def test_findings_end_with_their_count() -> None:
    found = [Finding("error", "a.csv", got="x"), Finding("warning", "b.csv", got="y")]
    assert say.findings(found).splitlines() == [
        "error: a.csv: got x.",
        "warning: b.csv: got y.",
        "Findings: 1 error, 1 warning.",
    ]
    assert say.findings([]) == "Nothing wrong was found."


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*table.names()]) if rows else empty(table)


def checked(meters: pd.DataFrame, zones: pd.DataFrame) -> Balance:
    bare = [empty(t) for t in (NIGHTS, DAYS, ZONES, ANNUAL, INDICATORS)]
    return Balance(*bare, basis=Basis(), meter_checks=meters, zone_checks=zones)


WHOLE = {"cell_id": "district", "verdict": "agrees", "reason": "Night and day of 2 zones agree"}
SOUND = {"meter_id": "M2", "verdict": "agrees", "reason": "Nothing happened"}


def test_where_all_meters_agree_one_sentence_says_so() -> None:
    found = checked(of(METER_CHECKS, SOUND), of(ZONE_CHECKS, WHOLE))
    assert say.meters(found) == [
        "No meter disagrees with the others. Night and day of 2 zones agree."
    ]


def test_a_meter_that_is_off_is_named_before_the_test_of_all() -> None:
    off = {"meter_id": "M1", "verdict": "off", "reason": "From 2025-08-15 it reads too little"}
    alone = {"meter_id": "M3", "verdict": "cannot_be_checked"}
    flow = {"cell_id": "A", "verdict": "unmetered_flow", "reason": "Since then 1 L/s pass"}
    found = checked(of(METER_CHECKS, off, SOUND, alone), of(ZONE_CHECKS, WHOLE, flow))
    assert say.meters(found) == [
        "M1: From 2025-08-15 it reads too little.",
        "A: Since then 1 L/s pass.",
        "Taken together, night and day of 2 zones agree.",
        "Cannot be checked by other meters: M3. A portable meter beside it for some days would "
        "tell.",
    ]


def test_water_between_two_zones_is_told_once() -> None:
    flows = [
        {"cell_id": c, "verdict": "unmetered_flow", "reason": "Since then 1 L/s pass"}
        for c in ("B", "A")
    ]
    found = checked(of(METER_CHECKS, SOUND), of(ZONE_CHECKS, WHOLE, *flows))
    assert say.meters(found)[0] == "A and B: Since then 1 L/s pass."


def test_meters_without_any_other_are_no_lines(capsys: pytest.CaptureFixture[str]) -> None:
    say.print_meters(checked(empty(METER_CHECKS), empty(ZONE_CHECKS)))
    assert capsys.readouterr().out == ""


def test_both_ways_to_real_losses_stand_side_by_side() -> None:
    row = {
        "cell_id": "district", "agrees": True, "statement": "The two ways agree.",
        "top_down_m3": 63_000, "top_down_m3_low": 59_000, "top_down_m3_high": 67_000,
        "bottom_up_m3": 66_000, "bottom_up_m3_low": 57_000, "bottom_up_m3_high": 74_000,
    }  # fmt: skip
    zones = [{**row, "cell_id": "A"}, {**row, "cell_id": "B", "agrees": False, "statement": "No."}]
    whole, apart = say.gaps(of(LOSS_GAPS, row, *zones), pd.Series({"B": "Lower"}))
    assert whole.replace("\u00a0", " ").replace("\n", " ") == (
        "Real losses of the district in a year: 63 000 m³ (59 000 to 67 000) by the annual "
        "balance, 66 000 m³ (57 000 to 74 000) by the night flows. The two ways agree."
    )
    assert apart.startswith("Real losses of Lower in a year")


def test_what_leakage_costs_is_said_for_the_whole() -> None:
    row = {
        "cell_id": "district",
        "excess_day_currency": 235, "excess_day_currency_low": 194,
        "excess_day_currency_high": 270, "excess_year_currency": 86_000,
        "excess_year_currency_low": 71_000, "excess_year_currency_high": 98_000,
    }  # fmt: skip
    (line,) = say.running(of(ECONOMICS, row, {**row, "cell_id": "A"}), "GBP")
    assert line.replace("\u00a0", " ").replace("\n", " ") == (
        "Leakage above the background costs GBP 240 (190 to 270) a day while it runs, GBP 86 000 "
        "(71 000 to 98 000) a year."
    )
