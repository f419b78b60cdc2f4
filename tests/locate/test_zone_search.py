"""One zone's search: a set for each leak."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.locate.spots import Evidence, Pairs, Sought
from district.locate.zone_search import ZoneSearch, search_zone, set_rows
from tests.locate.streets import even, likely, walk

STREET = walk([100.0, 200.0, 300.0])
ONE = Sought("E1", "V1", "leak", 0.6, 0.5, 0.7, date(2024, 3, 1))
TWO = Sought("E2", "V1", "leak", 0.2, 0.1, 0.3, date(2024, 4, 9))


def search(*leaks: Sought, **evidence: Evidence) -> ZoneSearch:
    told = {s.sought_id: [evidence[s.sought_id]] if s.sought_id in evidence else [] for s in leaks}
    return search_zone("V1", STREET, even(STREET), leaks, told, prior_said="pipes", hold_share=0.9)


def test_each_leak_has_its_own_set() -> None:
    found = search(
        ONE,
        TWO,
        E1=Evidence("E1", "pressure", "a", likely(60, 5, 1e5)),
        E2=Evidence("E2", "pressure", "b", likely(60, 45, 1e5)),
    )
    rows = set_rows(found).set_index("sought_id")
    assert list(rows["start"]) == [pd.Timestamp(2024, 3, 1), pd.Timestamp(2024, 4, 9)]
    assert list(rows["flow_l_s"]) == [0.6, 0.2]
    assert (rows["set_km"] == 0.01).all()
    assert list(rows["pipes_count"]) == [1, 1]
    assert [list(f.walked.chosen) for f in found.leaks] == [
        [True, False, False],
        [False, False, True],
    ]
    assert list(found.flow_share) == pytest.approx([0.75, 0.25])
    assert found.probability[5] == pytest.approx(0.75, abs=0.01)
    assert {r["sought_id"] for r in found.evidence} == {"E1", "E2"}


def paired(times: float) -> Evidence:
    """The loggers fit leaks at spots 3 and 50, 0.7 and 0.3 of the flow, `times` any other."""
    both = np.zeros((60, 60))
    both[3, 50] = both[50, 3] = np.log(times)
    share = np.full((60, 60), 0.5)
    share[3, 50], share[50, 3] = 0.7, 0.3
    pairs = Pairs(np.arange(60), np.zeros(60), both, share)
    return Evidence("E1", "pressure", "two places", np.zeros(60), pairs=pairs)


def test_two_leaks_at_once_are_both_reported() -> None:
    found = search(ONE, E1=paired(1e7))
    rows = set_rows(found).set_index("leak")
    assert list(rows.index) == ["larger", "smaller"]
    assert list(rows["sought_id"]) == ["E1", "E1"]
    assert list(rows["flow_l_s"]) == pytest.approx([0.42, 0.18], rel=0.01)
    assert list(rows["flow_l_s_low"]) == pytest.approx([0.35, 0.15], rel=0.01)
    larger, smaller = (f.probability for f in found.leaks)
    assert larger[3] > 0.95
    assert smaller[50] > 0.95
    assert found.probability.sum() == pytest.approx(1)
    assert found.probability[3] == pytest.approx(0.7, abs=0.02)


def test_one_leak_stays_one_where_two_are_no_likelier() -> None:
    found = search(ONE, E1=paired(1.0))
    assert [f.leak for f in found.leaks] == [""]
    np.testing.assert_allclose(found.probability, 1 / 60, rtol=0.01)


def test_leaks_without_flow_count_alike() -> None:
    nothing = replace(ONE, flow_l_s=0.0), replace(TWO, flow_l_s=0.0)
    np.testing.assert_allclose(search(*nothing).flow_share, [0.5, 0.5])
