from __future__ import annotations

import numpy as np
import pandas as pd

from district.intake.amount_columns import our_numbers
from district.schema.inputs import CONNECTIONS, PIPES, VALVES


def test_lengths_are_scaled_and_texts_left_for_the_check() -> None:
    frame = pd.DataFrame({"diameter_mm": [4, "wide", None], "length_m": [1.0, 2.0, 3.0]})
    before = frame.copy()
    ours, notes = our_numbers(frame, PIPES, {"diameter_mm": "in", "length_m": "km"}, source="p")
    assert ours["diameter_mm"].tolist()[:2] == [101.6, "wide"]
    assert pd.isna(ours["diameter_mm"].tolist()[2])
    assert ours["length_m"].tolist() == [1000.0, 2000.0, 3000.0]
    assert notes == []
    pd.testing.assert_frame_equal(frame, before)


def test_texts_become_numbers_and_what_is_none_stays() -> None:
    frame = pd.DataFrame(
        {
            "pipe_id": ["1,5", "2", "3", "4"],
            "diameter_mm": ["104,921", "150", "wide", None],
            "installed_year": [1950, 1960, 1970, 1980],
        }
    )
    ours, _ = our_numbers(frame, PIPES, {}, source="p")
    assert ours["diameter_mm"].tolist()[:3] == [104.921, 150.0, "wide"]
    assert ours["diameter_mm"].isna().tolist() == [False, False, False, True]
    assert ours["pipe_id"].tolist() == ["1,5", "2", "3", "4"]
    assert ours["installed_year"].tolist() == [1950, 1960, 1970, 1980]


def test_a_unit_in_the_text_wins_and_mixtures_are_told_once() -> None:
    frame = pd.DataFrame({"diameter_mm": ['6"', "150mm", "4", "8 in", "DN100"]})
    ours, (note,) = our_numbers(frame, PIPES, {"diameter_mm": "in"}, source="p.shp")
    expected = [6 * 25.4, 150.0, 4 * 25.4, 8 * 25.4, 100.0]
    np.testing.assert_allclose(ours["diameter_mm"].astype(float), expected)
    assert note.sentence() == (
        "p.shp, column diameter_mm: got values in units of their own "
        '(in: 2, such as "6""; mm: 2, such as "150mm"), expected in throughout. '
        "Each is read in the unit it names; check those that name none."
    )


def test_a_column_of_one_unit_is_not_told_of() -> None:
    frame = pd.DataFrame({"diameter_mm": ['6"', '8"', None, '3/4"']})
    ours, notes = our_numbers(frame, PIPES, {}, source="p")
    np.testing.assert_allclose(ours["diameter_mm"].astype(float)[[0, 1]], [152.4, 203.2])
    assert notes == []


def test_outside_diameters_with_walls_are_told() -> None:
    frame = pd.DataFrame({"diameter_mm": ["110x6.6", "160 x 9,5", "100"]})
    ours, (note,) = our_numbers(frame, PIPES, {}, source="p")
    np.testing.assert_allclose(ours["diameter_mm"].astype(float), [96.8, 141.0, 100.0])
    assert note.sentence() == (
        'p, column diameter_mm: got 2 values such as "110x6.6", read as outside diameter and '
        "wall, expected inside diameter. The outside diameter less twice the wall is used; correct "
        "those that mean something else."
    )


def test_what_stands_for_not_known_is_emptied_and_told() -> None:
    frame = pd.DataFrame(
        {"diameter_mm": [0, 100, -9999, 0], "length_m": [0.0, 5.0, 7.0, 9999.0], "roughness": "n/a"}
    )
    ours, (note, other) = our_numbers(frame, PIPES, {}, source="p")
    assert ours["diameter_mm"].isna().tolist() == [True, False, True, True]
    # Ten kilometres may be a pipe: only what is out of bounds stands for nothing.
    assert ours["length_m"].isna().tolist() == [True, False, False, False]
    assert ours["roughness"].isna().all()
    assert note.sentence() == (
        "p, column diameter_mm: got -9999, 0 in 3 rows, taken as not known, expected a number in "
        "mm from 10 to 3000. Give the value where it is known."
    )
    assert other.column == "length_m"


def test_a_count_of_none_is_a_count() -> None:
    ours, notes = our_numbers(pd.DataFrame({"properties": [0, 3]}), CONNECTIONS, {}, source="c")
    assert ours["properties"].tolist() == [0, 3]
    assert notes == []


def test_outlet_pressures_come_in_units_of_pressure() -> None:
    frame = pd.DataFrame({"setting_m": ["3 bar", "40 m", "35"]})
    ours, _ = our_numbers(frame, VALVES, {}, source="v")
    # 1 bar is 100 kPa, a metre of water 9.80665 kPa.
    np.testing.assert_allclose(ours["setting_m"].astype(float), [300 / 9.80665, 40.0, 35.0])
    bars, _ = our_numbers(
        pd.DataFrame({"setting_m": [3.0]}), VALVES, {"setting_m": "bar"}, source=""
    )
    np.testing.assert_allclose(bars["setting_m"].astype(float), 300 / 9.80665)


def test_years_go_their_own_way() -> None:
    frame = pd.DataFrame({"installed_year": ["1974-06-01", "1970s", "0", "soon"]})
    ours, notes = our_numbers(frame, PIPES, {}, source="p")
    assert ours["installed_year"].tolist()[:2] == [1974.0, 1975.0]
    assert ours["installed_year"].tolist()[3] == "soon"
    assert len(notes) == 2
