from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from district.balance.naming import (
    INDEPENDENT,
    cells_of,
    critical_index,
    faults_among,
)
from district.balance.own_changes import chance_of, own_changes, take_off


def named(known: Any, pairs: Any) -> dict[tuple[str, int], Any]:
    owns = own_changes(known, known.night_l_s, known.day_l_s)
    bare = known.night_l_s.copy(), known.day_l_s.copy()
    take_off(owns, bare)
    values = known.night_l_s, known.day_l_s
    made = chance_of(known, bare)
    found = faults_among(known, pairs, owns, values, made, fresh=set(range(4)))
    return {(f.kind, f.at): f for f in found}


def test_the_critical_value_counts_every_meter_and_week(draw_equations: Any) -> None:
    known = draw_equations(days_count=140)
    assert critical_index(known) == pytest.approx(chi2.isf(0.01 / (3 * 20), 1))


def test_the_faulty_meter_wins_and_the_runner_up_is_said(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(5, fault=(2, 80, -0.15))
    found = named(known, pairs)
    assert list(found) == [("meter", 2)]  # and none of its neighbours
    fault = found["meter", 2]
    assert fault.low <= 80 <= fault.high
    assert fault.share == pytest.approx(-0.15 / 0.85, abs=3.5 * fault.share_deviation)
    assert fault.margin_index > np.log(3.0)
    assert fault.runner_up in (INDEPENDENT, "water passing unmetered between zone Z1 and zone Z2")
    assert fault.statistic_index > critical_index(known)


def test_a_leak_is_no_meter_however_large(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(5, leaks=((2, 80, 3.0),))
    assert named(known, pairs) == {}


def test_what_meters_in_service_are_allowed_is_no_fault(draw_equations: Any, pairs: Any) -> None:
    assert named(draw_equations(5, fault=(2, 80, 0.03)), pairs) == {}
    assert list(named(draw_equations(5, fault=(2, 80, 0.08)), pairs)) == [("meter", 2)]


def test_only_what_lies_beside_the_cells_asked_for_is_weighed(
    draw_equations: Any, pairs: Any
) -> None:
    known = draw_equations(5, fault=(2, 80, -0.15))
    values = known.night_l_s, known.day_l_s
    made = chance_of(known, values)
    owns = own_changes(known, *values)
    assert faults_among(known, pairs, owns, values, made, fresh=set()) == []


def test_cells_of_meters_and_pairs(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(days_count=30)
    assert cells_of(known, pairs, "meter", 2) == (2, 1)
    assert cells_of(known, pairs, "pair", 1) == (1, 2)
