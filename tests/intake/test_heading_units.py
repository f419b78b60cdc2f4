from __future__ import annotations

import pytest

from district.intake.heading_units import QUANTITY, is_units_row, split_unit, unit_of
from district.units import factor

BASE = {"volume": "m3", "rate": "m3/h", "pressure": "m", "length": "m"}


@pytest.mark.parametrize("unit", [u for u in QUANTITY if u != "pulses"])
def test_every_unit_can_be_converted(unit: str) -> None:
    quantity = QUANTITY[unit]
    assert factor(unit, BASE[quantity], quantity=quantity) > 0


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("m3/h", "m3/h"),
        ("[m³/hr]", "m3/h"),
        ("m3 h-1", "m3/h"),
        ("cbm", "m3"),
        ("Litres", "l"),
        ("ML/d", "Ml/d"),
        ("ml", ""),
        ("mH2O", "m"),
        ("Imp.", ""),
        ("pulses", "pulses"),
        ("cellar", ""),
        ("", ""),
    ],
)
def test_units_as_people_write_them(text: str, unit: str) -> None:
    assert unit_of(text) == unit


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("Flow (m3/h)", "Flow", "m3/h"),
        ("M12 [l/s]", "M12", "l/s"),
        ("Flow, m3/h", "Flow", "m3/h"),
        ("Flow in l/s", "Flow", "l/s"),
        ("BM 7 (cellar) {bar}", "BM 7 (cellar)", "bar"),
        ("[m3]", "[m3]", "m3"),
        ("Time (UTC)", "Time (UTC)", ""),
        ("in", "in", ""),
        ("M 1", "M 1", ""),
    ],
)
def test_headings_without_their_unit(heading: str, name: str, unit: str) -> None:
    assert split_unit(heading) == (name, unit)


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (["dd/mm/yyyy hh:mm", "m3/h"], True),
        (["TT.MM.JJJJ", "-", "[l/s]"], True),
        (["UTC", "bar"], True),
        (["-", "-"], False),
        (["time", "value"], False),
        (["2025-01-01", "m3"], False),
        (["M1", "m3"], False),
        ([], False),
    ],
)
def test_rows_of_units(texts: list[str], told: bool) -> None:
    assert is_units_row(texts) == told
