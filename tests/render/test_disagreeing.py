from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from district.render import disagreeing
from district.schema import reconciled
from district.schema.columns import empty

SCRIPT = "<script>alert(1)</script>"


def plain(text):
    return text.replace("\u00a0", " ")


def with_balance(report, **tables):
    return replace(report, balance=replace(report.balance, **tables))


def test_a_meter_that_is_off_is_told_with_its_amount_and_its_zones(report):
    found = disagreeing.disagreeing(report)
    (row,) = found.off
    assert row["meter_id"] == "M2"
    # off_share is -0.15 (-0.21 to -0.09): too little, limits as sizes.
    assert plain(row["amount"]) == "15 % too little (9 to 21)"
    assert row["between"].startswith(f"between Upper {SCRIPT} (Z1) and ")
    assert [w["cell_id"] for w in found.without] == ["Z1", "Z2"]
    assert not found.backwards


def test_what_is_too_much_keeps_the_order_of_its_limits():
    row = {"off_share": 0.2, "off_share_low": 0.1, "off_share_high": 0.3}
    assert plain(disagreeing.amount(row)) == "20 % too much (10 to 30)"
    unknown = dict.fromkeys(row, np.nan)
    assert disagreeing.amount(unknown) == "wrongly"


def test_why_names_zones_as_people_do_and_ends_as_a_sentence():
    zones = pd.DataFrame({"cell_id": ["V1", "V2"], "name": ["Church Street", "Mill Lane"]})
    said = "From then zone V2 gains what zone V1 loses; zone V22 and zone V1-b do not"
    assert disagreeing.zones_named(said, zones) == (
        "From then Mill Lane (V2) gains what Church Street (V1) loses; zone V22 and zone V1-b do "
        "not."
    )
    assert disagreeing.zones_named("It is off.", zones) == "It is off."


def test_the_first_screen_sends_nobody_for_a_leak(report):
    said = plain(disagreeing.notice(report))
    assert said.startswith("Meter M2 (between ")
    assert "seems to read 15 % too little (9 to 21), since 2031-03-20" in said
    assert "Send nobody to look for a leak" in said


def test_more_than_the_first_screen_holds_are_counted(report):
    checks = report.balance.meter_checks
    off = checks[checks["verdict"] == "off"]
    many = pd.concat([off.assign(meter_id=f"M{n}") for n in range(5)], ignore_index=True)
    said = disagreeing.notice(with_balance(report, meter_checks=many))
    assert "M2" in said
    assert "M3" not in said
    assert "; 2 more meters below." in said


def test_meters_that_agree_are_one_sentence_with_the_test_of_all(report):
    checks = report.balance.meter_checks
    sound = checks.assign(verdict="agrees")
    calm = with_balance(report, meter_checks=sound)
    found = disagreeing.disagreeing(calm)
    assert found.off == found.unchecked == ()
    assert found.agreeing == (
        "All 2 meters that can be checked agree with those beside them, within their limits: what "
        "is smaller than those may still be wrong."
    )
    assert found.together == (
        "Night and day of 3 zones agree: the figure of the test is 3.1, and chance alone hardly "
        "passes 6."
    )
    assert disagreeing.notice(calm) == ""


def test_zones_that_do_not_close_and_meters_without_a_check_are_named(report):
    found = disagreeing.disagreeing(report)
    assert found.zones == ("Žižkov-Süd (O'Hara & Söhne): By day 0.2 L/s more flows in.",)
    assert found.unchecked == ("Meter M1 cannot be checked. Only one side of it is balanced.",)
    assert found.agreeing == ""


def test_nothing_is_said_where_nothing_was_checked(report):
    bare = with_balance(
        report,
        meter_checks=empty(reconciled.METER_CHECKS),
        zone_checks=empty(reconciled.ZONE_CHECKS),
        without_meter=empty(reconciled.WITHOUT_METER),
    )
    found = disagreeing.disagreeing(bare)
    assert (found.off, found.zones, found.agreeing, found.together) == ((), (), "", "")
    assert disagreeing.notice(bare) == ""
    assert disagreeing.checks_said(bare) == {}


def test_the_map_says_it_in_a_few_words(report):
    said = disagreeing.checks_said(report)
    assert said["M1"] == "cannot be checked"
    assert plain(said["M2"]) == (
        "seems to read 15 % too little (9 to 21), since 2031-03-20: check it before any leak"
    )


def test_a_meter_at_the_edge_has_one_zone():
    names = {"Z1": "Upper (Z1)"}
    row = {"upstream_cell_id": "", "downstream_cell_id": "Z1"}
    assert disagreeing.between(row, names) == "into Upper (Z1)"
    row = {"upstream_cell_id": "Z1", "downstream_cell_id": None}
    assert disagreeing.between(row, names) == "out of Upper (Z1)"
