from __future__ import annotations

import numpy as np
import pytest

from district.intake.guess_units import guess_unit


@pytest.mark.parametrize(
    ("theirs", "values", "unit", "sureness"),
    [
        ("DIA", [4, 6, 8, 6, 12], "in", "likely"),
        ("DIA_IN", [4, 6, 8, 6, 12], "in", "sure"),
        ("DIA", [100, 150, 80, 300], "", "sure"),
        ("DIA", [0.1, 0.15, 0.3], "m", "likely"),
        # 32 and 40 are sold in both; nobody but the user can tell.
        ("DIA", [32, 40, 32, 40], "in", "unsure"),
        ("DIA_MM", [4, 6, 8, 6, 12], "", "unsure"),
        ("DIA_MM", [100, 150], "", "sure"),
        ("DIA", [], "", "sure"),
    ],
)
def test_bores(theirs: str, values: list[float], unit: str, sureness: str) -> None:
    said = guess_unit("diameter_mm", theirs, np.array(values, dtype=float))
    assert said[:2] == (unit, sureness)


@pytest.mark.parametrize(("scale", "unit"), [(1.0, ""), (3.2808, "ft"), (0.001, "km")])
def test_lengths_are_told_by_what_is_drawn(scale: float, unit: str) -> None:
    drawn = np.array([40.0, 100.0, 62.0, np.nan])
    values = np.array([41.0, 98.0, 62.5, 7.0]) * scale
    assert guess_unit("length_m", "LEN", values, drawn_m=drawn)[:2] == (unit, "sure")


def test_lengths_that_fit_no_unit_are_left() -> None:
    values, drawn = np.array([9.0, 9.0, 9.0]), np.array([40.0, 100.0, 62.0])
    assert guess_unit("length_m", "LEN", values, drawn_m=drawn) == ("", "sure", "")


def test_levels_go_by_their_name() -> None:
    values = np.array([512.0])
    assert guess_unit("elevation_m", "ELEV_FT", values) == ("ft", "sure", "its name says ft")
    assert guess_unit("elevation_m", "ELEV", values)[0] == ""
    assert guess_unit("error_percent", "ACCURACY", values) == ("", "sure", "")


def test_gallons_of_a_pulse_by_the_heading() -> None:
    hundred = np.array([100.0])
    assert guess_unit("litres_per_pulse", "GAL_PULSE", hundred)[:2] == ("gal", "sure")
    assert guess_unit("litres_per_pulse", "L_PULSE", hundred)[0] == ""
