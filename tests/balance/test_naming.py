from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from district.balance.naming import INDEPENDENT, cells_of, contested, critical_index
from district.balance.own_changes import chance_of, own_changes, take_off


def contest(known: Any, pairs: Any, kind: str, at: int, date: int) -> Any:
    owns = own_changes(known, known.night_l_s, known.day_l_s)
    bare = known.night_l_s.copy(), known.day_l_s.copy()
    take_off(owns, bare)
    return contested(known, pairs, owns, bare, chance_of(known, bare), kind, at, date)


def test_the_critical_value_counts_every_meter_and_week(draw_equations: Any) -> None:
    known = draw_equations(days_count=140)
    assert critical_index(known) == pytest.approx(chi2.isf(0.01 / (3 * 20), 1))


def test_the_faulty_meter_wins_and_the_runner_up_is_said(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(5, fault=(2, 80, -0.15))
    fault = contest(known, pairs, "meter", 2, 80)
    assert fault.share == pytest.approx(-0.15 / 0.85, abs=3.5 * fault.share_deviation)
    assert fault.margin_index > np.log(3.0)
    assert fault.runner_up in (INDEPENDENT, "water passing unmetered between Z1 and Z2")
    assert fault.statistic_index > critical_index(known)


@pytest.mark.parametrize(("kind", "at"), [("meter", 1), ("meter", 3), ("pair", 0), ("pair", 2)])
def test_its_neighbours_do_not(draw_equations: Any, pairs: Any, kind: str, at: int) -> None:
    known = draw_equations(5, fault=(2, 80, -0.15))
    assert contest(known, pairs, kind, at, 80) is None


def test_a_leak_is_no_meter_however_large(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(5, leaks=((2, 80, 3.0),))
    assert contest(known, pairs, "meter", 2, 80) is None
    assert contest(known, pairs, "meter", 3, 80) is None


def test_cells_of_meters_and_pairs(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(days_count=30)
    assert cells_of(known, pairs, "meter", 2) == (2, 1)
    assert cells_of(known, pairs, "pair", 1) == (1, 2)
