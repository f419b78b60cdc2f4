from __future__ import annotations

from district.schema.audited import AUDIT, IMPROVEMENTS, KINDS, OPERATIONS


def test_kinds_and_operations_are_choices() -> None:
    assert AUDIT["kind"].choices == KINDS == IMPROVEMENTS["kind"].choices
    assert AUDIT["operation"].choices == OPERATIONS


def test_rows_are_told_apart_by_place_figure_and_rank() -> None:
    assert AUDIT.key == IMPROVEMENTS.key == ("cell_id", "figure", "rank")
    assert set(AUDIT.required()) >= set(AUDIT.key)
