from __future__ import annotations

from xml.etree import ElementTree

import matplotlib as mpl
import pandas as pd

from district.render import charts
from district.render.charts import interval_bar, night_chart


def of_zone(report, key):
    nights = report.balance.nights
    events = report.events.events
    return nights[nights.cell_id == key], events[events.cell_id == key]


def test_same_bytes_and_no_date(report):
    first, again = night_chart(*of_zone(report, "Z1")), night_chart(*of_zone(report, "Z1"))
    assert first == again
    assert "dc:date" not in first
    ElementTree.fromstring(first)


def test_it_names_axis_limits_events_and_works(report):
    chart = night_chart(*of_zone(report, "Z1"))
    for words in ("L/s", "95 % limits", "net inflow", "leakage", "event starts"):
        assert f">{words}<" in chart
    assert ">recorded works<" in chart
    quiet = night_chart(*of_zone(report, "Z2"))
    assert ">event starts<" not in quiet, "a building's event is not one of the zone's night flow"


def test_the_seven_night_figure_is_drawn_where_it_is_known(report):
    nights, events = of_zone(report, "Z1")
    seven = report.balance.seven_nights
    assert ">lowest hour, 7 nights<" in night_chart(nights, events, seven=seven)
    assert "7 nights" not in night_chart(nights, events, seven=seven.iloc[:0])
    ElementTree.fromstring(night_chart(nights.iloc[:0], events.iloc[:0], seven=seven))


def test_estimated_nights_are_not_drawn_as_if_they_were_measured(report):
    nights, events = of_zone(report, "Z1")
    assert ">estimated night<" not in night_chart(nights, events)
    last = nights.index[nights["leakage_l_s"].notna()][-1]
    guessed = nights.assign(status=nights["status"].where(nights.index != last, "estimated"))
    assert ">estimated night<" in night_chart(guessed, events)


def test_nights_without_a_figure_leave_a_gap(report):
    nights, events = of_zone(report, "Z1")
    series = charts._every_night(nights.drop(nights.index[5:8]))
    assert len(series) == 60
    assert series["leakage_l_s"].isna().sum() == 4 + 3
    whole = night_chart(nights.fillna({"inflow_l_s": 1.0, "leakage_l_s": 0.4}), events)
    assert whole != night_chart(nights, events)


def test_a_single_night_and_none_at_all_are_drawn(report):
    nights, events = of_zone(report, "Z1")
    ElementTree.fromstring(night_chart(nights.iloc[:1], events))
    ElementTree.fromstring(night_chart(nights.iloc[:0], events.iloc[:0]))


def test_global_style_and_inputs_are_left_alone(report):
    nights, events = of_zone(report, "Z1")
    before = (nights.copy(), events.copy(), mpl.rcParams["svg.hashsalt"])
    night_chart(nights, events)
    pd.testing.assert_frame_equal(nights, before[0])
    pd.testing.assert_frame_equal(events, before[1])
    assert mpl.rcParams["svg.hashsalt"] == before[2]


def test_words_for_those_who_cannot_see_it(report):
    nights, _ = of_zone(report, "Z1")
    words = charts.chart_words(nights, "Upper")
    assert words.startswith("Night flow of Upper, 2031-03-01 to 2031-04-29: leakage lowest 0.3")
    assert charts.chart_words(nights.iloc[:0], "X") == "Night flow of X: no night with a figure."


def test_interval_stays_inside_its_box():
    bar = ElementTree.fromstring(interval_bar(0.5, -1.0, 9.0, top_l_s=1.0))
    assert [p.get("d") for p in bar.iter() if p.tag == "path"][1] == "M4.0 7H84.0"
    assert interval_bar(float("nan"), 0.0, 1.0, top_l_s=1.0) == ""
    assert interval_bar(0.5, 0.0, 1.0, top_l_s=float("nan")) == ""
