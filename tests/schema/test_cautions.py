"""The cautions of every sheet."""

from __future__ import annotations

from district.schema.cautions import SHEET_CAUTIONS


def test_they_are_sentences_and_defer_to_those_who_answer_for_it() -> None:
    assert all(c.endswith(".") for c in SHEET_CAUTIONS)
    assert sum("local rules" in c for c in SHEET_CAUTIONS) >= 3
    assert any("licensed" in c for c in SHEET_CAUTIONS)
