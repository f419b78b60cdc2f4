"""What may tell pipes apart, as columns with priors."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.plan.terms import BLOCKS, pooled_spread, terms_of
from tests.plan.made_history import breaks_of, history_of, pipes_of


def table(**changes: object) -> pd.DataFrame:
    pipes = pipes_of(
        {"pipe_id": "A", "ground": "clay"},
        {"pipe_id": "B", "material": "pvc", "diameter_mm": 300.0, "ground": "sand"},
        {"pipe_id": "C", "ground": None},
    )
    return history_of(pipes, breaks_of()).table.assign(**changes)


def test_a_column_each_for_district_bore_materials_classes_and_grounds() -> None:
    terms = terms_of(table())
    assert terms.names == (
        ("district", ""),
        ("bore", ""),
        ("material", "cast_iron"),
        ("material", "pvc"),
        ("bore_class", "126 to 200 mm"),
        ("bore_class", "201 to 300 mm"),
        ("ground", "clay"),
        ("ground", "sand"),
    )
    rows = terms.matrix.toarray()
    assert rows[0] == pytest.approx([1, 0, 1, 0, 1, 0, 1, 0])
    assert rows[1] == pytest.approx([1, np.log(2), 0, 1, 0, 1, 0, 1])
    assert rows[2] == pytest.approx([1, 0, 1, 0, 1, 0, 0, 0])


def test_one_ground_or_one_zone_tells_nothing() -> None:
    said = {term for term, _ in terms_of(table(ground="clay", cell_id="Z")).names}
    assert said == {"district", "bore", "material", "bore_class"}


def test_groups_that_differ_widely_are_drawn_less_together() -> None:
    terms = terms_of(table(cell_id=["Z1", "Z2", "Z3"]))
    zones = terms.block == list(BLOCKS).index("cell_id")
    apart = np.where(zones, 1.5, 0.0)
    wide = pooled_spread(terms, apart, np.zeros(len(apart)))
    near = pooled_spread(terms, 0 * apart, np.zeros(len(apart)))
    assert (wide[zones] > terms.spread[zones]).all()
    assert (near[zones] < terms.spread[zones]).all()
    # By hand: (3 x 1.5^2 + 4 x 0.3^2) over 3 + 4.
    assert wide[zones] == pytest.approx(np.sqrt((3 * 2.25 + 4 * 0.09) / 7))
    assert wide[0] == terms.spread[0]
