"""Expected changes against networks solved before and with the leak."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics import solve
from district.locate.pressure_residuals import Drawing
from district.locate.pressure_signatures import expected_use, signatures, use_drawn
from tests.locate.pressure_zone import leaking_zone

ZONE = leaking_zone(3)
CALIBRATED, DEMANDS = ZONE.heard.calibrated, ZONE.heard.demands
MODEL = CALIBRATED.drawn.model
USE = DEMANDS.use.toarray()[0]
POINTS = np.flatnonzero(np.isnan(MODEL.fixed_head_m))


def test_the_expected_change_is_that_of_the_solved_network() -> None:
    drew, leak = np.array([1.0, 3.0, 5.0, 8.0]), 0.8
    halfway = Drawing(np.outer(drew + leak / 2, USE), (drew + leak / 2)[:, None])
    change = Drawing(np.outer(np.full(4, leak), USE), np.full((4, 1), leak))
    signs = signatures(
        CALIBRATED, DEMANDS, 0, halfway, change,
        flow_l_s=leak, likely_share=USE, points=POINTS,
    )  # fmt: skip
    watch = CALIBRATED.drawn.watch
    for b in range(4):
        before = watch @ solve(MODEL, drew[b] * USE).head_m
        for p in (0, 7, len(POINTS) - 1):
            more = np.zeros(len(USE))
            more[POINTS[p]] = leak
            exact = watch @ solve(MODEL, drew[b] * USE + more).head_m - before
            told = signs.sensitivity[b] @ (leak * USE) + signs.made_m[b, :, p]
            assert told == pytest.approx(exact, abs=0.15 * np.abs(exact).max() + 0.01)
    assert signs.drawn_m == pytest.approx(0.0, abs=1e-6)


def test_use_goes_where_the_pressures_say() -> None:
    index = np.random.default_rng(1).uniform(0.5, 2.0, (2, len(USE)))
    calibrated = replace(CALIBRATED, use_index=index)
    expected = expected_use(calibrated, DEMANDS)
    row = expected.use.toarray()[0]
    assert row == pytest.approx(USE * index[0] / (USE @ index[0]))
    assert use_drawn(calibrated, expected, 0)[0] == pytest.approx(USE * index[1] / (USE @ index[1]))
    assert expected_use(CALIBRATED, DEMANDS) is DEMANDS
