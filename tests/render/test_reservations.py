from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pandas as pd

from district.render.reservations import (
    LATE_D,
    LEAST_D,
    every,
    of_the_audit,
    of_the_year,
    of_zones,
)


def test_a_lowest_night_flow_below_zero_is_explained(report):
    balance = report.balance
    assert not any("below zero" in s for s in of_zones(balance))
    flows = [-0.1, *balance.zones["minimum_night_flow_l_s"].iloc[1:]]
    below = replace(balance, zones=balance.zones.assign(minimum_night_flow_l_s=flows))
    (said,) = [s for s in of_zones(below) if "below zero" in s]
    first, second = balance.zones["cell_id"].iloc[:2]
    assert f"({first}) is below zero" in said
    assert f"({second})" not in said


def test_leakage_below_zero_beyond_its_limits_cannot_be(report):
    zones = report.balance.zones
    highs = [-0.2, *zones["leakage_l_s_high"].iloc[1:]]
    wrong = zones.assign(leakage_l_s_high=highs, minimum_night_flow_l_s=-1.0)
    first, second = zones["cell_id"].iloc[:2]
    said, odd = of_zones(replace(report.balance, zones=wrong))[:2]
    assert f"({first}) is below zero by more than its limits, which cannot be" in said
    assert f"({second})" not in said
    assert f"({first})" not in odd


def test_old_figures_say_up_to_when_they_go(report):
    balance = report.balance
    nights = balance.nights
    ends = pd.to_datetime(nights.dropna(subset=["leakage_l_s"])["night"])
    fresh = replace(balance, basis=replace(balance.basis, last=ends.max().date()))
    cut = ends.max() - pd.Timedelta(days=LATE_D + 1)
    lost = (nights["cell_id"] == "Z1") & (pd.to_datetime(nights["night"]) > cut)
    gone = replace(fresh, nights=nights.assign(leakage_l_s=nights["leakage_l_s"].mask(lost)))
    assert not any("up to" in s for s in of_zones(fresh))
    (said,) = [s for s in of_zones(gone) if "up to" in s]
    assert "(Z1)" in said
    assert f"up to {cut:%Y-%m-%d}: none after that" in said


def test_a_year_from_a_short_record_says_so(report):
    balance = report.balance
    last = balance.basis.last
    short, whole = (
        replace(balance, basis=replace(balance.basis, first=last - timedelta(days=n - 1)))
        for n in (61, LEAST_D)
    )
    assert of_the_year(short).startswith("The year is scaled up from 61 days of record")
    assert of_the_year(whole) == ""
    assert of_the_year(replace(short, annual=balance.annual.iloc[:0])) == ""
    unknown = replace(balance, basis=replace(balance.basis, first=None))
    assert of_the_year(unknown) == ""


def test_the_audit_says_which_meters_are_off(report):
    checks = report.balance.meter_checks
    assert of_the_audit(report.balance) == (
        "Of meter M2 only the error of its kind is counted, not that it is off: until it is put "
        "right, the limits of the zones on both sides do not hold."
    )
    both = replace(report.balance, meter_checks=checks.assign(verdict="off"))
    assert "meters M1" in of_the_audit(both)
    assert "until they are put right" in of_the_audit(both)
    sound = replace(report.balance, meter_checks=checks.assign(verdict="agrees"))
    assert of_the_audit(sound) == ""
    assert of_the_audit(report.balance) in every(report.balance)
    assert of_the_audit(sound) not in every(sound)
