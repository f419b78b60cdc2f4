"""Several leaks of one zone and the records that are about one of them."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.posterior import spread
from district.locate.several import in_order, told_apart
from district.locate.spots import Evidence, Sought
from tests.locate.streets import even, likely, walk

STREET = walk([200.0])
BIG, SMALL = Sought("E1", "V1", "leak", 0.6, 0.5, 0.7), Sought("E2", "V1", "leak", 0.2, 0.1, 0.3)


def heard(sought: Sought, at: int, said: str, kind: str = "correlator") -> Evidence:
    return Evidence(sought.sought_id, kind, said, likely(20, at, 1000.0))


def where(evidence: list[Evidence]) -> np.ndarray:
    return spread(even(STREET), evidence, STREET).probability


def test_evidence_is_in_order_of_kind() -> None:
    given = [heard(BIG, 1, "b"), heard(BIG, 1, "a", "pressure"), heard(BIG, 1, "a")]
    assert [(e.kind, e.said) for e in in_order(given)] == [
        ("pressure", "a"),
        ("correlator", "b"),
        ("correlator", "a"),
    ]


def test_one_leak_keeps_its_evidence_as_it_is() -> None:
    given = [heard(BIG, 3, "a"), heard(BIG, 5, "b", "survey")]
    kept = told_apart([BIG], {"E1": given}, even(STREET), STREET)["E1"]
    assert kept == in_order(given)


def test_a_record_is_about_the_larger_leak_in_proportion_to_flow() -> None:
    told = told_apart(
        [BIG, SMALL], {s.sought_id: [heard(s, 4, "a")] for s in (BIG, SMALL)}, even(STREET), STREET
    )
    big, small = (where(told[name])[4] for name in ("E1", "E2"))
    # With nothing else known: 3 of 4 chances that it is about the larger one.
    sure = 1000 / 1019
    assert big == pytest.approx(0.75 * sure + 0.25 / 20)
    assert small == pytest.approx(0.25 * sure + 0.75 / 20)


def test_what_one_leak_explains_is_left_to_it() -> None:
    """Pressure knows where the larger leak is; a sound at that place is its sound, another one is
    of the smaller leak."""
    evidence = {
        "E1": [
            Evidence("E1", "pressure", "known", likely(20, 4, 1e6)),
            heard(BIG, 4, "a"),
            heard(BIG, 15, "b"),
        ],
        "E2": [heard(SMALL, 4, "a"), heard(SMALL, 15, "b")],
    }
    told = told_apart([BIG, SMALL], evidence, even(STREET), STREET)
    assert where(told["E1"])[4] > 0.99
    assert where(told["E2"])[15] > 0.9
    assert where(told["E2"])[4] < 0.05


def test_a_survey_holds_for_every_leak() -> None:
    clear = -likely(20, 7, 5.0)
    evidence = {s.sought_id: [Evidence(s.sought_id, "survey", "", clear)] for s in (BIG, SMALL)}
    told = told_apart([BIG, SMALL], evidence, even(STREET), STREET)
    for name in ("E1", "E2"):
        np.testing.assert_array_equal(told[name][0].log_likelihood, clear)


def test_a_record_that_only_one_leak_may_have_caused_is_its_own() -> None:
    late = Evidence("E2", "sighting", "a", np.zeros(20), used=False)
    evidence = {"E1": [heard(BIG, 4, "a", "sighting")], "E2": [late]}
    told = told_apart([BIG, SMALL], evidence, even(STREET), STREET)
    assert where(told["E1"])[4] == pytest.approx(1000 / 1019)
    assert told["E2"] == [late]
