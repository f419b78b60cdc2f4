from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.explained import explained
from district.balance.own_changes import chance_of, own_changes, take_off
from district.balance.suspects import Suspects


def weigh(known: Any, meter: int, date: int) -> tuple[Any, Any]:
    owns = own_changes(known, known.night_l_s, known.day_l_s)
    bare = known.night_l_s.copy(), known.day_l_s.copy()
    take_off(owns, bare)
    at = np.array([meter])
    flows = known.night_flow_l_s[:, at], known.day_flow_l_s[:, at]
    return explained(
        Suspects(at, np.array([date]), known.downstream[at], known.upstream[at], flows),
        (known.night_l_s, known.day_l_s),
        made=chance_of(known, bare),
        use_l_s=known.use_l_s,
        factor_share=known.factor_share,
        owns=owns,
        least_statistic_index=10.0,
    )


def test_a_fault_beside_a_leak_is_told_from_two_leaks(draw_equations: Any) -> None:
    kept, found = weigh(draw_equations(1, fault=(2, 80, 0.1), leaks=((1, 83, 0.3),)), 2, 80)
    assert list(kept) == [0]
    assert found.odds[0] > np.log(3.0)
    assert found.first[0] == pytest.approx(80, abs=1)
    assert found.share[0] == pytest.approx(0.1 / 1.1, abs=4 * found.deviation[0])


def test_leaks_that_begin_at_once_on_both_sides_are_no_fault(draw_equations: Any) -> None:
    kept, found = weigh(draw_equations(1, leaks=((2, 80, 0.4), (1, 81, -0.2))), 2, 80)
    assert not len(kept) or found.odds[0] < np.log(3.0)


def test_nothing_is_not_weighed(draw_equations: Any) -> None:
    kept, found = weigh(draw_equations(1), 2, 80)
    assert not len(kept)
    assert not len(found.odds)
