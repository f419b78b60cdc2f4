"""The effect of a leak against solving the network with it."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import head_sensitivity, pattern_of, solve
from district.locate.pressure_curve import bent_m
from tests.hydraulics.known_zone import known_zone


@pytest.mark.parametrize("flow_l_s", [0.3, 3.0])
def test_slope_and_bend_together_come_near_the_solved_network(flow_l_s: float) -> None:
    drawn = known_zone(2).drawn
    model, pattern = drawn.model, pattern_of(drawn.model)
    points = np.flatnonzero(np.isnan(model.fixed_head_m))
    use = np.where(np.isnan(model.fixed_head_m), 1.0, 0.0)
    use = 3.0 * use / use.sum()
    likely = use / use.sum()
    state = solve(model, use + flow_l_s / 2 * likely)
    slope = head_sensitivity(model, state, drawn.watch)
    bend = bent_m(
        model, state, slope, points,
        flow_l_s=np.full(len(points), flow_l_s), likely_share=likely, pattern=pattern,
    )  # fmt: skip
    before = drawn.watch @ solve(model, use).head_m
    leaks = flow_l_s * np.eye(len(use))[points]
    exact = np.array([drawn.watch @ solve(model, use + leak).head_m - before for leak in leaks]).T
    by_slope = flow_l_s * slope[:, points]
    missed, before_bend = np.abs(exact - by_slope - bend), np.abs(exact - by_slope)
    assert np.sqrt((missed**2).mean()) < 0.25 * np.sqrt((before_bend**2).mean())
    assert missed.max() < 0.05 * np.abs(exact).max()
