from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.contest import chance
from district.balance.own_changes import NEAR_DAYS, Own
from district.balance.suspects import BEFORE_DAYS, Suspects, Windows, fault_of, windows

FIRST = 80


def about(known: Any, owns: list[Own]) -> Windows:
    """Meters 1 and 2 suspected from day 80 on."""
    at = np.array([1, 2])
    values = known.night_l_s, known.day_l_s
    return windows(
        Suspects(
            at,
            np.array([FIRST, FIRST]),
            known.downstream[at],
            known.upstream[at],
            (known.night_flow_l_s[:, at], known.day_flow_l_s[:, at]),
        ),
        values,
        made=chance(known.use_l_s, *values, settled=True),
        use_l_s=known.use_l_s,
        factor_share=known.factor_share,
        owns=owns,
    )


def test_the_days_about_each_date_are_cut_out_of_both_cells(draw_equations: Any) -> None:
    known = draw_equations(3)
    found = about(known, [Own(1, 50, 0.2, 0.1), Own(2, 82, 0.3, 0.3), Own(3, 80, 1.0, 1.0)])
    assert found.series.night[BEFORE_DAYS] == pytest.approx(known.night_l_s[FIRST, [1, 2, 0, 1]])
    assert np.isnan(found.series.night[-1]).all()  # beyond the record
    assert found.reach.sum(axis=0) == pytest.approx([2 * NEAR_DAYS + 1] * 2)
    # Cell 1 is that of meter 1, and above meter 2.
    assert sorted(found.far.columns) == [0, 3]
    assert list(found.near.columns) == [1]
    assert list(found.near.days) == [BEFORE_DAYS + 2]
    second = found.of(np.array([1]))
    assert list(second.near.columns) == [0]
    assert second.series.night[BEFORE_DAYS] == pytest.approx(known.night_l_s[FIRST, [2, 1]])


def test_the_fault_is_dated_and_its_share_told(draw_equations: Any) -> None:
    found = about(draw_equations(3, fault=(2, 80, 0.1)), [])
    fault = fault_of(found.seen(found.far)[0], found)
    assert fault.first[1] == pytest.approx(BEFORE_DAYS, abs=1)
    assert fault.low[1] <= BEFORE_DAYS <= fault.high[1]
    assert fault.share[1] == pytest.approx(0.1 / 1.1, abs=4 * fault.deviation[1])
    assert fault.odds[1] > fault.odds[0]
