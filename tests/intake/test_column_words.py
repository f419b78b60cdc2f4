from __future__ import annotations

import pytest

from district.intake.column_words import SPELLINGS, likeness
from district.schema.inputs import LAYERS, READINGS, RECORDS


def test_every_spelling_is_of_a_column_that_exists() -> None:
    tables = {t.name: set(t.names()) for t in (*LAYERS, *RECORDS, READINGS)}
    assert {t: set(c) - tables[t] for t, c in SPELLINGS.items()} == {t: set() for t in tables}


@pytest.mark.parametrize("table", [*LAYERS, *RECORDS, READINGS], ids=lambda t: t.name)
def test_our_own_names_are_known_in_capitals_and_cut_by_a_shapefile(table: object) -> None:
    for name in table.names():  # type: ignore[attr-defined]
        if name != "geometry":
            assert likeness(table.name, name, name.upper()) == 1.0  # type: ignore[attr-defined]
            assert likeness(table.name, name, name[:10]) == 1.0  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("table", "ours", "better", "worse"),
    [
        ("pipes", "pipe_id", "PIPE_NO", "ASSET_ID"),
        ("pipes", "pipe_id", "ASSET_ID", "OBJECTID"),
        ("pipes", "diameter_mm", "INTERNAL_DIA", "NOMINAL_DIA"),
        ("pipes", "installed_year", "YR_LAID", "REPLACEMENT_PRIORITY"),
        ("pipes", "length_m", "PIPE_LEN", "SHAPE_Length"),
        ("pipes", "length_m", "Länge", "Breite"),
        ("pipes", "pipe_id", "Leitungsnr", "OBJECTID"),
        ("pipes", "installed_year", "INSTALLDAT", "LASTEDITED"),
        ("valves", "state", "NORMALPOS", "MAPPOS"),
        ("meters", "litres_per_pulse", "Impulswertigkeit", "Impulsausgang"),
        ("connections", "properties", "NO_PROPS", "PROPERTY_NO"),
        ("valves", "state", "VALVE_STATUS", "COLOUR"),
        ("sensors", "surface_m2", "TANK_AREA", "COLOUR"),
        ("readings", "value", "Tank level (cm)", "Tank name"),
    ],
)
def test_the_better_name_is_liked_more(table: str, ours: str, better: str, worse: str) -> None:
    assert likeness(table, ours, better) > likeness(table, ours, worse)


def test_lengths_a_gis_computes_are_not_taken() -> None:
    assert likeness("pipes", "length_m", "SHAPE_Leng") == 0.0
