from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.own_changes import Own, as_steps, chance_of, own_changes, take_off


def test_leaks_their_ends_and_changes_of_use_are_found_with_their_sizes(
    draw_equations: Any,
) -> None:
    known = draw_equations(
        4, leaks=((1, 40, 0.5), (1, 62, -0.5), (1, 90, 0.3)), use=((3, 70, 0.15),)
    )
    found = own_changes(known, known.night_l_s, known.day_l_s)
    mine = [o for o in found if o.cell == 1]
    assert [o.first for o in mine] == pytest.approx([40, 62, 90], abs=1)
    assert [o.night_l_s for o in mine] == pytest.approx([0.5, -0.5, 0.3], abs=0.02)
    (use,) = [o for o in found if o.cell == 3]
    assert use.day_l_s == pytest.approx(0.15 * 2.5, abs=0.05)
    assert abs(use.night_l_s) < 0.03


def test_a_change_is_taken_off_its_cell_from_its_day_on() -> None:
    values = np.zeros((30, 2)), np.zeros((30, 2))
    change = Own(1, 10, 0.4, 0.3)
    take_off([change], values)
    assert values[0][9:11, 1] == pytest.approx([0.0, -0.4])
    assert values[1][10, 1] == pytest.approx(-0.3)
    assert all((v[:, 0] == 0).all() for v in values)


def test_only_the_cells_asked_for_are_looked_at(draw_equations: Any) -> None:
    known = draw_equations(4, leaks=((1, 40, 0.5), (2, 60, 0.5)))
    found = own_changes(known, known.night_l_s, known.day_l_s, cells=[2])
    assert {o.cell for o in found} == {2}


def test_as_steps_they_are_as_large_as_they_were_found() -> None:
    steps = as_steps([Own(0, 10, 0.5, 0.4), Own(2, 30, -0.2, 0.0)])
    assert (list(steps.columns), list(steps.days)) == ([0, 2], [10, 30])
    assert steps.usual[:, 0] == pytest.approx([0.25, 0.16, 0.1])
    assert not len(as_steps([]).columns)


def test_with_changes_off_the_noise_is_that_of_quiet_days(draw_equations: Any) -> None:
    known = draw_equations(4, leaks=((1, 40, 0.8), (1, 62, -0.8)))
    values = known.night_l_s.copy(), known.day_l_s.copy()
    take_off(own_changes(known, *values), values)
    made = chance_of(known, values)
    assert np.sqrt(made.night.white[1]) == pytest.approx(0.015, rel=0.5)
    assert np.sqrt(made.of(np.array([1])).night.white[0]) == np.sqrt(made.night.white[1])
