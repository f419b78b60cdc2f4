from __future__ import annotations

from xml.etree import ElementTree

import pandas as pd
import pytest

from district.render.trade_off import left_out_words, trade_off_chart, trade_off_words


@pytest.fixture
def curve(report):
    return report.shut_off.curve


def test_same_bytes_and_no_date(curve):
    first = trade_off_chart(curve, without_m3=276.0)
    assert first == trade_off_chart(curve.iloc[::-1], without_m3=276.0)
    assert "dc:date" not in first
    ElementTree.fromstring(first)


def test_axes_limits_and_the_advised_setting_are_named(curve):
    chart = trade_off_chart(curve, without_m3=276.0)
    for words in ("false trips a year", "m³ that leaks lose", "advised", "95 % limits"):
        assert f">{words}<" in chart
    assert ">without a valve<" in chart
    assert ">without a valve<" not in trade_off_chart(curve)
    assert ">advised<" not in trade_off_chart(curve.assign(advised=False))


def test_settings_nobody_bears_are_left_to_the_table(curve):
    assert left_out_words(curve) == "1 more setting would trip over 100 times a year: in the " + (
        "table alone."
    )
    assert left_out_words(curve[curve["false_trips_per_year"] < 100]) == ""
    hopeless = curve.assign(false_trips_per_year=500.0, advised=False)
    assert left_out_words(hopeless) == "", "with nothing better to show all are drawn"
    ElementTree.fromstring(trade_off_chart(hopeless, without_m3=0.0))


def test_one_setting_and_nothing_lost_are_drawn(curve):
    dry = curve.iloc[[0]].assign(
        leaked_with_m3=0.0, leaked_with_m3_low=0.0, leaked_with_m3_high=0.0
    )
    ElementTree.fromstring(trade_off_chart(dry, without_m3=None))
    bare = curve.assign(**dict.fromkeys((n for n in curve if n.endswith(("_low", "_high"))), pd.NA))
    ElementTree.fromstring(trade_off_chart(bare, without_m3=276.0))


def test_words_for_those_who_cannot_see_it(curve):
    said = trade_off_words(curve, "Hall", without_m3=276.0).replace("\u00a0", " ")
    assert said.startswith("Trade-off for Hall, 4 settings. From 0.2 L/s for 6 h with false trips")
    assert "Lost without a valve: 276 m³." in said
    assert "Advised: 0.1 L/s for 4 h with false trips 0.5 1/year" in said
    assert "3.0 m³ (2.4 to 3.6) lost" in said
    assert "Advised" not in trade_off_words(curve.assign(advised=False), "Hall")


def test_the_curve_is_left_alone(curve):
    before = curve.copy()
    trade_off_chart(curve, without_m3=276.0)
    pd.testing.assert_frame_equal(curve, before)
