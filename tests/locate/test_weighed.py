"""What each piece of evidence moved."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.pieces import shortest_walk
from district.locate.posterior import spread
from district.locate.spots import Evidence, Sought
from district.locate.weighed import evidence_rows
from tests.locate.streets import even, likely, walk

STREET = walk([100.0, 100.0, 100.0])
LEAK = Sought("E1", "V1", "leak", 0.6, 0.5, 0.7)
PRIOR = even(STREET) + np.log(np.repeat([1.0, 2.0, 3.0], 10))
HEARD = Evidence("E1", "correlator", "heard on the first", likely(30, 5, 1e4))
CLEAR = Evidence("E1", "survey", "walked the third", np.repeat([0.0, 0.0, -2.0], 10))
LATE = Evidence("E1", "sighting", "before it began", np.zeros(30), used=False)


def rows(*evidence: Evidence) -> list[dict[str, object]]:
    return evidence_rows(LEAK, PRIOR, evidence, STREET, prior_said="pipes", hold_share=0.9)


def test_rows_are_the_prior_and_then_by_kind() -> None:
    found = rows(CLEAR, LATE, HEARD)
    assert [r["kind"] for r in found] == ["prior", "correlator", "sighting", "survey"]
    assert [r["used"] for r in found] == [True, True, False, True]
    assert found[0]["said"] == "pipes"
    assert {(r["sought_id"], r["cell_id"]) for r in found} == {("E1", "V1")}


def test_walks_are_with_all_above_and_with_all_but_this() -> None:
    def walk_m(prior: np.ndarray, *evidence: Evidence) -> float:
        where = spread(prior, evidence, STREET).probability
        return shortest_walk(STREET, where, hold_share=0.9).length_m

    prior, heard, late, clear = rows(HEARD, CLEAR, LATE)
    final = walk_m(PRIOR, HEARD, CLEAR)
    assert [prior["walk_m"], heard["walk_m"], late["walk_m"], clear["walk_m"]] == [
        walk_m(PRIOR),
        walk_m(PRIOR, HEARD),
        walk_m(PRIOR, HEARD),
        final,
    ]
    assert heard["walk_without_m"] == walk_m(PRIOR, CLEAR) > final
    assert clear["walk_without_m"] == walk_m(PRIOR, HEARD)
    assert prior["walk_without_m"] == walk_m(even(STREET), HEARD, CLEAR)
    assert (late["walk_without_m"], late["moved_share"]) == (final, 0)


def test_moved_share_is_the_total_variation() -> None:
    (prior, heard) = rows(HEARD)
    before, after = (spread(PRIOR, e, STREET).probability for e in ([], [HEARD]))
    assert heard["moved_share"] == pytest.approx(np.maximum(after - before, 0).sum())
    assert 0.9 < float(str(heard["moved_share"])) < 1
    flat = spread(even(STREET), [HEARD], STREET).probability
    assert prior["moved_share"] == pytest.approx(np.abs(after - flat).sum() / 2)


def test_records_that_could_not_count_in_the_same_words_are_one_row() -> None:
    assert [r["kind"] for r in rows(LATE, HEARD, LATE)] == ["prior", "correlator", "sighting"]
