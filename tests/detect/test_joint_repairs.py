from __future__ import annotations

import pandas as pd
import pytest

from district.detect.joint_repairs import TOGETHER_NIGHTS, as_one, together
from district.detect.recorded import Work

FIRST = pd.Timestamp("2025-05-05")


def repair(day: int, place: str = "P1", *, days: int = 0, kind: str = "repair") -> Work:
    first = FIRST + pd.Timedelta(days=day)
    return Work(kind, first, first + pd.Timedelta(days=days), place, frozenset({place, "V1"}))


def test_repairs_close_upon_one_another_are_one_group_in_order() -> None:
    works = [repair(9), repair(0), repair(TOGETHER_NIGHTS, "P2"), repair(1, kind="flushing")]
    group = together(works[1], works)
    assert [w.place_id for w in group] == ["P1", "P2"]
    assert together(works[2], works) == group
    assert together(works[0], works) == (works[0],)


def test_a_chain_of_repairs_is_one_group_from_the_first_to_the_last() -> None:
    works = [repair(0, days=2), repair(5, "P2"), repair(8, "P3")]
    group = together(works[0], works)
    assert len(group) == 3
    assert (as_one(group).first, as_one(group).last) == (works[0].first, works[2].last)
    assert as_one(group[:1]) is works[0]


@pytest.mark.parametrize(("gap", "count"), [(TOGETHER_NIGHTS, 2), (TOGETHER_NIGHTS + 1, 1)])
def test_the_gap_is_counted_from_the_end_of_the_one_before(gap: int, count: int) -> None:
    works = [repair(0, days=10), repair(10 + gap, "P2")]
    assert len(together(works[0], works)) == count
