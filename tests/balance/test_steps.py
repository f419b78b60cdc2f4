from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.contest import chance
from district.balance.steps import Series, grown, no_steps


def series_of(*changes: tuple[int, float]) -> Series:
    """Two columns of 100 days; these leaks (first day, L/s) in the first."""
    rng = np.random.default_rng(2)
    night, day = 0.01 * rng.normal(size=(100, 2)), 0.05 * rng.normal(size=(100, 2))
    for first, flow in changes:
        night[first:, 0] += flow
        day[first:, 0] += 0.9 * flow
    use = np.full(2, 2.0)
    return Series(night, day, chance(use, night, day, settled=False), use, np.full(2, 0.9))


def test_changes_are_found_one_after_the_other_and_quiet_columns_left() -> None:
    everywhere = np.ones((100, 2), dtype=bool)
    found = grown(series_of((30, 0.5), (60, -0.3)), no_steps(), reach=everywhere, worth_index=0.0)
    assert list(found.columns) == [0, 0]
    assert sorted(found.days) == pytest.approx([30, 60], abs=1)


@pytest.mark.parametrize("again", [True, False])
def test_only_days_within_reach_are_taken_and_what_was_known_is_kept(again: bool) -> None:
    series = series_of((30, 0.5), (60, -0.3))
    reach: Any = np.zeros((100, 2), dtype=bool)
    reach[50:] = True
    known = grown(series_of((30, 0.5)), no_steps(), reach=~reach, worth_index=0.0)
    assert list(known.days) == [30]
    found = grown(series, known, reach=reach, worth_index=0.0, again=again)
    assert sorted(found.days) == pytest.approx([30, 60], abs=1)


def test_nothing_is_worth_more_than_it_is() -> None:
    everywhere = np.ones((100, 2), dtype=bool)
    found = grown(series_of((30, 0.5)), no_steps(), reach=everywhere, worth_index=1e9)
    assert not len(found.days)
