from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.render.explain import REPAIR_WORDS
from district.render.repaired import repairs
from district.schema.event_tables import REPAIR_VERDICTS


def test_those_that_ask_for_another_visit_come_first_then_the_newest(report):
    checks = report.events.repair_checks
    later = checks.iloc[[0]].assign(work="later", repaired=pd.Timestamp("2031-04-25"))
    every = replace(report.events, repair_checks=pd.concat([checks, later]))
    rows = repairs(replace(report, events=every))["rows"]
    assert [row["verdict"] for row in rows] == ["partly", "verified", "verified"]
    assert rows[1]["work"] == "later"
    assert rows[0]["name"] == "Hall <script>alert(1)</script>"
    assert rows[0]["beside"].startswith("meter M&B")
    assert rows[1]["name"] == "Upper <script>alert(1)</script> (Z1)"


def test_a_place_nobody_knows_keeps_its_id(report):
    strange = report.events.repair_checks.assign(place_id="Q7")
    every = replace(report.events, repair_checks=strange)
    assert repairs(replace(report, events=every))["rows"][0]["name"] == "Q7"


def test_every_verdict_has_words():
    assert set(REPAIR_WORDS) == set(REPAIR_VERDICTS)
