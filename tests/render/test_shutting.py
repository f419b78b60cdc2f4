from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.render import shutting
from district.results import ShutOff
from district.schema.event_tables import SHUTOFF_CAUTION


def test_advised_settings_have_chart_curve_and_their_own_caution(report):
    told = shutting.shut_off(report)
    (hall,) = told["advised"]
    assert hall["name"] == "Hall <script>alert(1)</script>"
    assert hall["beside"].startswith("meter M&B, ")
    assert hall["beside"].endswith(", valve AV<1>")
    assert hall["own_caution"] == "Without power the valve AV<1> stays as it is."
    assert str(hall["image"]).startswith("data:image/svg+xml;base64,")
    assert [row["false_trips_per_year"] for row in hall["curve"]] == [0.0, 0.5, 12.0, 400.0]
    assert [row["device_id"] for row in told["none"]] == ["B2"]
    assert told["caution"] == SHUTOFF_CAUTION


def test_a_building_with_a_valve_goes_before_one_that_could_have_one(report):
    settings = report.shut_off.settings
    larger = settings.iloc[[1]].assign(device_id="M9", valve_id="", leaked_m3=9000.0)
    both = ShutOff(pd.concat([larger, settings]), report.shut_off.curve)
    told = shutting.shut_off(replace(report, shut_off=both))
    assert [row["device_id"] for row in told["advised"]] == ["M&B", "M9"]
    assert told["advised"][1]["beside"].endswith("no such valve yet")
    assert told["advised"][1]["image"] == "", "it has no curve"


def test_many_buildings_are_bounded_and_few_are_drawn(report):
    one, curve = report.shut_off.settings.iloc[[1]], report.shut_off.curve
    ids = [f"M{n}" for n in range(shutting.SHOWN + 5)]
    many = ShutOff(
        pd.concat([one.assign(device_id=i) for i in ids]),
        pd.concat([curve.assign(device_id=i) for i in ids]),
    )
    told = shutting.shut_off(replace(report, shut_off=many))
    assert len(told["advised"]) == shutting.SHOWN
    assert told["left_out"] == 5
    assert sum(bool(row["image"]) for row in told["advised"]) == shutting.DRAWN


def test_valves_on_the_map_get_advice_with_the_caution(report):
    advice = shutting.advice_of_valves(report)
    assert set(advice) == {"AV<1>"}
    assert advice["AV<1>"][0].startswith("Trip when")
    assert advice["AV<1>"][1].startswith(SHUTOFF_CAUTION)
