from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district import words

SPACE = "\u00a0"


@pytest.mark.parametrize(
    ("value", "low", "high", "name", "shown"),
    [
        (0.8412, 0.6088, 1.0744, "leakage_l_s", "0.84 L/s (0.61 to 1.07)"),
        (5.0, 0.0, 10.0, "flow_l_s", "5 L/s (0 to 10)"),
        (0.0412, 0.0398, 0.0426, "excess_l_s", "0.0412 L/s (0.0398 to 0.0426)"),
        (99.7, 89.0, 110.2, "leakage_m3_d", "100 m³/day (89 to 110)"),
        (0.5, 0.41, 0.59, "probability_share", "50 % (41 to 59)"),
        (0.35874, 0.3552, 0.3621, "legitimate_use_l_s", "0.359 L/s (0.355 to 0.362)"),
        (131.0, 128.7, 133.3, "inflow_m3_d", "131 m³/day (129 to 133)"),
        (2345.0, 2344.5, 2345.5, "volume_m3", "2 345.0 m³ (2 344.5 to 2 345.5)"),
        (41.0, None, None, "pressure_m", "41.0 m"),
        (3.0, 3.0, 3.0, "leakage_l_s", "3.00 L/s"),
        (0.5, np.nextafter(0.5, 0), np.nextafter(0.5, 1), "walk_share", "50.0 %"),
        (float("nan"), 1.0, 2.0, "leakage_l_s", "-"),
        (None, None, None, "leakage_l_s", "-"),
        (0.0, None, None, "excess_l_s", "0 L/s"),
        (-0.0004, -0.3, 0.3, "excess_l_s", "0.00 L/s (-0.30 to 0.30)"),
        (1234567.0, None, None, "volume_m3", "1 230 000 m³"),
        (75.0, None, None, "diameter_mm", "75 mm"),
        (2031.0, None, None, "installed_year", "2031"),
        (12345.0, None, None, "connections_count", "12 345"),
        (0.00004, None, None, "missing_share", "0.0 %"),
    ],
)
def test_a_figure_stops_where_its_limits_do(value, low, high, name, shown):
    assert words.figure(value, low, high, name).replace(SPACE, " ") == shown


def test_money_carries_its_currency():
    assert words.figure(1240.0, name="cost_currency", currency="CHF") == f"CHF{SPACE}1{SPACE}240"


@pytest.mark.parametrize("value", [None, np.nan, pd.NaT, pd.NA, "", "  "])
def test_empty_cells_are_missing(value):
    assert words.missing(value)
    assert words.day(value) == words.EMPTY
    assert words.spelled(value) == words.EMPTY


@pytest.mark.parametrize("value", [0, 0.0, False, "x"])
def test_zero_and_false_are_not_missing(value):
    assert not words.missing(value)


def test_an_instant_is_told_on_the_local_clock_over_the_clock_change():
    # Clocks in Vienna go from 02:00 to 03:00 on 2031-03-30 (EU directive 2000/84/EC: 01:00 UTC).
    before, after = pd.Timestamp("2031-03-30T00:59Z"), pd.Timestamp("2031-03-30T01:00Z")
    assert words.moment(before, timezone="Europe/Vienna") == "2031-03-30 01:59"
    assert words.moment(after, timezone="Europe/Vienna") == "2031-03-30 03:00"


def test_names_sort_as_people_sort_them():
    assert words.natural(["P10", "P2", "10", "9", "P2", "Q"]) == ["9", "10", "P2", "P10", "Q"]


@pytest.mark.parametrize(
    ("names", "text"),
    [
        (["P1"], "P1"),
        (["P2", "P1"], "P1 and P2"),
        (["P1", "P2", "P3"], "P1, P2 and P3"),
        (["P1", "P2", "P3", "P4"], "P1, P2, P3 and P4"),
        (["P1", "P2", "P3", "P4", "P5"], "P1, P2, P3 and 2 more"),
    ],
)
def test_lists_name_the_first_and_count_the_rest(names, text):
    assert words.listed(names) == text


def test_place_of_one_and_of_several():
    assert words.places("meter", ["M2"]) == "meter M2"
    assert words.places("meter", ["M2", "M1"]) == "meters M1 and M2"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.424, "0.42"), (0.0114, "0.011"), (0.2, "0.2"), (3.14, "3.1"), (126.0, "130"), (0.0, "0")],
)
def test_a_number_in_a_sentence_keeps_two_digits(value, shown):
    assert words.brief(value) == shown


def test_counts_set_their_thousands_apart_and_one_is_singular():
    assert words.plural(1, "night") == "1 night"
    assert words.plural(0, "stretch", "stretches") == "0 stretches"
    assert words.plural(12034, "night") == f"12{SPACE}034 nights"


def test_a_near_name_is_hinted_at_and_a_far_one_is_not():
    assert words.closest("diametr_mm", ["material", "diameter_mm"]) == (
        " (the closest is diameter_mm)"
    )
    assert words.closest("xyz", ["material"]) == ""


def test_the_caution_names_who_may_act():
    for said in ("estimates", "licensed people", "local rules", "fire supply", "critical users"):
        assert said in words.CAUTION


def test_a_file_is_named_by_its_place_in_the_folder(tmp_path):
    assert words.file_name(tmp_path / "gis" / "a.gpkg", tmp_path) == "gis/a.gpkg"
    assert words.file_name(tmp_path / "a.gpkg", tmp_path / "b") == str(tmp_path / "a.gpkg")


@pytest.mark.parametrize(("value", "set_"), [(True, True), (np.True_, True), (None, False)])
def test_an_empty_flag_is_not_set(value, set_):
    assert words.true(value) is set_


def test_a_file_name_that_is_no_text_can_still_be_printed() -> None:
    folder = Path("/a/b")
    assert words.file_name(folder / "readings/z.csv", folder) == "readings/z.csv"
    assert words.file_name(folder / os.fsdecode(b"z\xff.csv"), folder) == "z\\xff.csv"
