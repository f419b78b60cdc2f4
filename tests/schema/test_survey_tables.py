"""Tests of `district.schema.survey_tables`."""

from __future__ import annotations

from district.schema.survey_tables import BY_WORDS, POINT_KINDS, SURVEY_TABLES, WALKED_BY
from district.units import suffix_of

NUMBERS = {"leg", "shift", "set_up", "rank", "density_rank", "soonest_rank"}
"""Numbers in an order."""


def test_every_measure_carries_its_unit() -> None:
    bare = [
        (t.name, c.name)
        for t in SURVEY_TABLES
        for c in t.columns
        if c.kind in ("real", "whole") and not suffix_of(c.name) and c.name not in NUMBERS
    ]
    assert bare == []


def test_words_and_keys() -> None:
    assert set(BY_WORDS) == set(WALKED_BY)
    assert "ground" in POINT_KINDS
    for table in SURVEY_TABLES:
        assert set(table.key) <= set(table.names())
        assert (table.geometry is not None) == ("geometry" in table.names())
