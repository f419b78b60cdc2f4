from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.intake.amounts import own_unit_factor, quantity_of, read_amounts


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ('6"', 6.0, "in"),
        ("6 in", 6.0, "in"),
        ("6 inch.", 6.0, "in"),
        ("6''", 6.0, "in"),
        ("8 Zoll", 8.0, "in"),
        ("DN150", 150.0, "mm"),
        ("dn 150", 150.0, "mm"),
        ('DN 6"', 6.0, "in"),
        ("150mm", 150.0, "mm"),
        ("1 500 mm", 1500.0, "mm"),
        ("15 cm", 15.0, "cm"),
        ("Ø 110", 110.0, ""),
        ("⌀110 mm", 110.0, "mm"),
        ("OD 110", 110.0, ""),
        ('1 1/2"', 1.5, "in"),
        ("1-1/2 in", 1.5, "in"),
        ('3/4"', 0.75, "in"),
        ("3/4", 0.75, "in"),
        ("1½ in", 1.5, "in"),
        ("110x6.6", 96.8, "mm"),
        ("110 x 6,6 mm", 96.8, "mm"),
        ("Ø110×6.6", 96.8, "mm"),
        ("200 SDR 11", 200 * 9 / 11, "mm"),
        ("200 mm SDR11", 200 * 9 / 11, "mm"),
    ],
)
def test_bores(text: str, value: float, unit: str) -> None:
    read = read_amounts(pd.Series([text]), "diameter_mm")
    assert read.values[0] == pytest.approx(value)
    assert read.units[0] == unit


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("12'6\"", 150.0, "in"),
        ("12' 6", 150.0, "in"),
        ("12 ft 6 in", 150.0, "in"),
        ("25 ft", 25.0, "ft"),
        ("25'", 25.0, "ft"),
        ("1,234.5 ft", 1234.5, "ft"),
        ("1,5 m", 1.5, "m"),
        ("3 km", 3.0, "km"),
    ],
)
def test_lengths(text: str, value: float, unit: str) -> None:
    read = read_amounts(pd.Series([text]), "length_m")
    assert (read.values[0], read.units[0]) == (pytest.approx(value), unit)


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("wide", "diameter_mm"),
        ("6-8", "diameter_mm"),
        ("100/150", "diameter_mm"),
        ("1/0", "diameter_mm"),
        ("110x60", "diameter_mm"),
        ("110 SDR 2", "diameter_mm"),
        ("4 bar", "diameter_mm"),
        ('150 mm (6")', "diameter_mm"),
        ("110x6.6", "length_m"),
        ("DN150", "length_m"),
        ("2 flats", "properties"),
        ("3 m", "error_percent"),
    ],
)
def test_what_is_no_amount(text: str, column: str) -> None:
    assert np.isnan(read_amounts(pd.Series([text]), column).values[0])


@pytest.mark.parametrize(
    ("column", "text", "ours"),
    [
        ("setting_m", "4 bar", 400 / 9.80665),
        ("setting_m", "40 m", 40.0),
        ("litres_per_pulse", "0.1 m3/imp", 100.0),
        ("litres_per_pulse", "10 l/pulse", 10.0),
        ("error_percent", "2 %", 2.0),
        ("elevation_m", "100 ft", 30.48),
    ],
)
def test_each_quantity_has_its_units(column: str, text: str, ours: float) -> None:
    read = read_amounts(pd.Series([text]), column)
    assert read.values[0] * own_unit_factor(read.units[0], column) == pytest.approx(ours)


def test_decimal_commas_are_judged_by_the_column() -> None:
    texts = pd.Series(["1,234,567 ft", "1,234 ft"])
    assert read_amounts(texts, "length_m").values.tolist() == [1234567.0, 1234.0]


def test_numbers_without_a_unit_have_no_quantity() -> None:
    assert [quantity_of(n) for n in ("properties", "roughness", "head_m")] == ["", "", "length"]
