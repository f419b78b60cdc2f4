from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.render import buildings
from district.render.explain import STILL_WORDS
from district.render.named_places import verdict_said
from district.schema.event_tables import STILL_VERDICTS


def test_worth_a_visit_first_the_others_beneath_and_the_rest_counted(report):
    told = buildings.buildings(report)
    assert [row["device_id"] for row in told["acting"]] == ["M&B"]
    assert [row["device_id"] for row in told["others"]] == ["B2"]
    assert told["counted"].startswith("1 meter stands still")
    assert "2 meters are read too seldom" in told["counted"]


def test_never_stopping_goes_before_dead_and_the_largest_first(report):
    checks = report.events.building_checks.assign(act=False)
    checks["verdict"] = ["dead", "constant_flow", "below_resolution", "constant_flow", "stuck"]
    checks["constant_l_s"] = [None, 0.01, 0.2, 0.3, None]
    told = buildings.buildings(
        replace(report, events=replace(report.events, building_checks=checks))
    )
    found = [(row["verdict"], row["constant_l_s"]) for row in told["others"]]
    assert [v for v, _ in found] == [
        "constant_flow", "constant_flow", "stuck", "dead", "below_resolution"
    ]  # fmt: skip
    assert found[0][1] == 0.3
    assert told["counted"] == ""


def test_a_thousand_meters_are_bounded(report):
    checks = report.events.building_checks
    dead = checks[checks["verdict"] == "dead"]
    many = pd.concat([dead.assign(device_id=f"D{n}") for n in range(buildings.OTHERS + 40)])
    told = buildings.buildings(replace(report, events=replace(report.events, building_checks=many)))
    assert len(told["others"]) == buildings.OTHERS
    assert told["left_out"] == 40


def test_every_verdict_has_words_and_the_map_says_why():
    assert set(STILL_WORDS) == set(STILL_VERDICTS)
    assert verdict_said({"verdict": "dead", "said": "It shows nothing."}, STILL_WORDS) == (
        "shows nothing. It shows nothing."
    )
    assert verdict_said({"verdict": "still", "said": None}, STILL_WORDS) == "stands still"
