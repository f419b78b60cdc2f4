from __future__ import annotations

import pytest

from district.intake.trade_words import bare, parts, unit_in, words


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("DIA", ("diameter",)),
        ("DIAM", ("diameter",)),
        ("MAT", ("material",)),
        ("YR_LAID", ("year", "install")),
        ("YEARLAID", ("year", "install")),
        ("INST_DATE", ("install", "date")),
        ("ASSET_ID", ("asset", "id")),
        ("AssetNo", ("asset", "id")),
        ("FACILITYID", ("facility", "id")),
        ("pipes", ("pipe",)),
        ("properties", ("property",)),
        ("use_class", ("use", "class")),
        ("Zähler-Nr.", ("meter", "id")),
        ("Leitungsnr", ("pipe", "id")),
        ("NORMALPOS", ("normal", "position")),
        ("", ()),
    ],
)
def test_names_are_taken_apart_into_words(name: str, said: tuple[str, ...]) -> None:
    assert words(name) == said


def test_what_is_no_run_of_known_words_stays_whole() -> None:
    assert words("remainder") == ("remainder",)
    assert parts("litres_per_pulse") == ("litre", "per", "pulse")


@pytest.mark.parametrize(
    ("name", "unit", "rest"),
    [
        ("DIA_IN", "in", ("diameter",)),
        ("Length (ft)", "ft", ("length",)),
        ("diameter_mm", "mm", ("diameter",)),
        ("in", "", ("in",)),
        ("diameter", "", ("diameter",)),
    ],
)
def test_a_unit_stands_at_the_end_of_a_name(name: str, unit: str, rest: tuple[str, ...]) -> None:
    assert unit_in(name) == unit
    assert bare(name) == rest
