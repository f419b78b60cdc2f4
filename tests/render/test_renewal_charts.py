from __future__ import annotations

from xml.etree import ElementTree

import pandas as pd
import pytest

from district.render.renewal_charts import (
    captured_chart,
    captured_words,
    tenths_chart,
    tenths_words,
    years_chart,
    years_words,
)
from district.schema.renewal_tables import RANKING_WORDS, SCENARIO_WORDS
from tests.render.made_renewal import made

PLAN = made()
TESTED = PLAN.backtest


def test_every_ranking_has_its_line_and_the_rows_order_does_not_matter():
    chart = captured_chart(TESTED.curve)
    assert chart == captured_chart(TESTED.curve.iloc[::-1])
    for words in (*RANKING_WORDS.values(), "its 95 % limits", "share of later breaks on it"):
        assert f">{words}<" in chart
    ElementTree.fromstring(chart)
    alone = captured_chart(TESTED.curve[TESTED.curve["ranking"] == "age"])
    assert f">{RANKING_WORDS['rates']}<" not in alone


def test_tenths_show_expected_limits_and_seen():
    chart = tenths_chart(TESTED.deciles)
    for words in ("expected", "seen", "95 % limits", "tenth, the highest rates first"):
        assert f">{words}<" in chart
    assert "within the limits in 9 of 10\u00a0tenths" in tenths_words(TESTED.deciles).replace(
        "10 tenths", "10\u00a0tenths"
    )


@pytest.mark.parametrize("name", ["breaks_count", "leakage_m3"])
def test_scenarios_are_told_apart_by_more_than_colour(name):
    chart = years_chart(PLAN.years, name, "what")
    ElementTree.fromstring(chart)
    for words in (*SCENARIO_WORDS.values(), "what"):
        assert f">{words}<" in chart
    assert "stroke-dasharray" in chart
    assert chart == years_chart(PLAN.years.iloc[::-1], name, "what")


def test_words_for_those_who_cannot_see_them():
    said = captured_words(TESTED.table).replace("\u00a0", " ")
    assert "rates of this plan: 28.4 %, 38.0 % and 50.9 % on the first 5, 10 and 20 %" in said
    assert "no renewal: " in years_words(PLAN.years, "leakage_m3")
    assert "in 2035" in years_words(PLAN.years, "leakage_m3")
    assert years_words(PLAN.years[:0], "leakage_m3") == "No year is told."


def test_the_tables_are_left_alone():
    before = PLAN.years.copy(), TESTED.curve.copy()
    years_chart(PLAN.years, "leakage_m3", "m³")
    captured_chart(TESTED.curve)
    pd.testing.assert_frame_equal(PLAN.years, before[0])
    pd.testing.assert_frame_equal(TESTED.curve, before[1])
