"""Tests of `district.hydraulics.friction`; against other sources in `published/`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics.friction import LAMINAR, ROUGHEST_SHARE, TURBULENT, drag, friction_factor

ROUGH = [0.0, 1e-4, 1e-2, 0.04]


def test_laminar_is_64_over_reynolds() -> None:
    re = np.array([1.0, 100.0, LAMINAR])
    assert friction_factor(re, 0.01) == pytest.approx(64.0 / re)


@pytest.mark.parametrize("rough", ROUGH)
def test_turbulent_solves_the_formula(rough: float) -> None:
    re = np.geomspace(TURBULENT, 1e8, 50)
    f = friction_factor(re, rough)
    right = -2.0 * np.log10(rough / 3.7 + 2.51 / (re * np.sqrt(f)))
    assert 1.0 / np.sqrt(f) == pytest.approx(right, rel=1e-12)


@pytest.mark.parametrize("rough", ROUGH)
@pytest.mark.parametrize("end", [LAMINAR, TURBULENT])
def test_there_is_no_jump_nor_bend_where_the_laws_meet(rough: float, end: float) -> None:
    sides = drag(end * np.array([1 - 1e-9, 1 + 1e-9]), rough)
    assert sides.drag[0] == pytest.approx(sides.drag[1], rel=1e-7)
    assert sides.by_reynolds[0] == pytest.approx(sides.by_reynolds[1], rel=1e-6)


@pytest.mark.parametrize("rough", ROUGH)
def test_head_lost_rises_with_flow_all_the_way(rough: float) -> None:
    found = drag(np.geomspace(1.0, 1e7, 4000), rough)
    assert (found.by_reynolds > 0).all()
    assert (np.diff(found.drag) > 0).all()


@pytest.mark.parametrize("re", [500.0, 2500.0, 3900.0, 1e5, 1e7])
def test_slopes_are_those_of_finite_differences(re: float) -> None:
    rough, step = 2e-3, 1e-5
    ends = drag(re * np.exp([-step, step]), rough).drag
    assert drag(re, rough).by_reynolds * re == pytest.approx(np.diff(ends)[0] / 2 / step, rel=1e-6)
    ends = drag(re, rough * np.exp([-step, step])).drag
    assert drag(re, rough).by_log_roughness == pytest.approx(
        np.diff(ends)[0] / 2 / step, rel=1e-6, abs=1e-6
    )


def test_a_pipe_rougher_than_the_diagram_counts_as_its_end() -> None:
    found = drag(1e5, [ROUGHEST_SHARE, 0.5])
    assert found.drag[0] == found.drag[1]
    assert found.by_log_roughness[1] == 0.0
