"""Which meter went wrong, and when nothing did; districts drawn with the truth known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.meter_faults import find_faults, take_off_fault

SEEDS = range(10)


def test_a_transfer_meter_off_by_a_tenth_is_named_within_fourteen_days(
    draw_equations: Any, pairs: Any
) -> None:
    named = wrong = 0
    for seed in SEEDS:
        sign = 1.0 if seed % 2 else -1.0
        known = draw_equations(
            seed, fault=(1 + seed % 3, 106, 0.1 * sign), leaks=((0, 40, 0.4), (3, 70, -0.15))
        )
        found = [f for f in find_faults(known, pairs=pairs) if f.kind == "meter"]
        right = [f for f in found if f.at == 1 + seed % 3]
        named += bool(right)
        wrong += len(found) > len(right)
        for fault in right:
            assert fault.low <= 106 <= fault.high + 1
            # Of what it reads: b / (1 + b).
            true = 0.1 * sign / (1 + 0.1 * sign)
            assert abs(fault.share - true) < 3.5 * fault.share_deviation
    assert named >= 8
    assert wrong == 0


@pytest.mark.parametrize(
    "events",
    [
        {},
        {"leaks": ((1, 60, 0.5),)},
        {"leaks": ((1, 60, 0.4), (2, 90, 0.3), (1, 95, -0.4))},
        {"leaks": ((1, 60, 0.4), (2, 61, -0.3))},  # a leak and a repair, zones that touch
        {"use": ((2, 70, 0.12),)},
        {"use": ((1, 70, -0.1),), "leaks": ((2, 70, 0.3),)},
    ],
)
def test_no_sound_meter_is_accused(draw_equations: Any, pairs: Any, events: dict[str, Any]) -> None:
    for seed in range(4):
        found = find_faults(draw_equations(seed, **events), pairs=pairs)
        assert [f for f in found if f.kind == "meter"] == []


def test_water_past_a_shut_valve_is_no_fault_of_a_meter(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(2, passing=(1, 2, 80, 0.5))
    (fault,) = find_faults(known, pairs=pairs)
    assert (fault.kind, fault.at) == ("pair", 1)
    assert abs(fault.first - 80) <= 1
    # Into the first cell of the pair, so it leaves it.
    assert fault.night_l_s == pytest.approx(0.5, abs=0.05)


def test_two_faults_are_found_one_after_the_other(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(3, days_count=200, fault=(1, 60, 0.15))
    later = known.night_flow_l_s.copy(), known.day_flow_l_s.copy()
    for flow, left in zip(later, (known.night_l_s, known.day_l_s), strict=True):
        added = 0.15 * flow[140:, 3]
        flow[140:, 3] += added
        left[140:, 3] += added
        left[140:, 2] -= added
    known.night_flow_l_s[:], known.day_flow_l_s[:] = later
    found = find_faults(known, pairs=pairs)
    assert [(f.kind, f.at) for f in found] == [("meter", 1), ("meter", 3)]
    assert [abs(f.first - day) <= 1 for f, day in zip(found, (60, 140), strict=True)] == [True] * 2


def test_a_fault_taken_off_leaves_both_cells_as_before(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(1, fault=(2, 60, 0.2))
    (fault,) = find_faults(known, pairs=pairs)
    values = known.night_l_s.copy(), known.day_l_s.copy()
    take_off_fault(known, pairs, fault, values)
    for left in values:
        before, after = left[30:58].mean(axis=0), left[62:].mean(axis=0)
        assert after == pytest.approx(before, abs=0.06)


def test_the_record_is_not_written_to(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(1, fault=(2, 60, 0.2))
    before = known.night_l_s.copy()
    find_faults(known, pairs=pairs)
    assert (known.night_l_s == before).all()


def test_short_records_and_no_records_name_nothing(draw_equations: Any, pairs: Any) -> None:
    for days in (0, 1, 8, 14):
        assert find_faults(draw_equations(days_count=days), pairs=pairs) == ()
    known = draw_equations()
    known.night_l_s[:] = known.day_l_s[:] = np.nan
    assert find_faults(known, pairs=pairs) == ()
