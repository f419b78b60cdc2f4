"""Tests of `district.hydraulics.slopes`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from district.hydraulics.slopes import slopes_at, use_deviations_m
from district.hydraulics.states import day_states
from tests.hydraulics.known_zone import known_zone


def test_slopes_are_those_of_finite_differences() -> None:
    zone = known_zone(2, across=5)
    seen = day_states(zone.drawn, zone.demands, zone.pressures, states_count=3)
    told = zone.drawn.model.roughness
    at = slopes_at(zone.drawn, seen, told)
    rng = np.random.default_rng(0)
    way = rng.standard_normal(len(told))
    step = 1e-4
    up = slopes_at(zone.drawn, seen, told * np.exp(step * way), before=at).head_m
    down = slopes_at(zone.drawn, seen, told * np.exp(-step * way), before=at).head_m
    np.testing.assert_allclose(at.by_roughness_m @ way, (up - down) / (2 * step), atol=1e-5)


def test_what_one_node_draws_more_the_others_of_its_cell_draw_less() -> None:
    zone = known_zone(2, across=5)
    seen = day_states(zone.drawn, zone.demands, zone.pressures, states_count=2)
    at = slopes_at(zone.drawn, seen, zone.drawn.model.roughness)
    moved = use_deviations_m(zone.drawn, zone.demands, seen, at.by_draw)
    node, step = 7, 1e-3
    share = zone.demands.use.toarray()[0]
    sigma = zone.demands.use_spread_share[0] / 1.96 * share[node]
    more = -share.copy() * sigma
    more[node] += sigma
    shifted = replace(seen, demand_l_s=seen.demand_l_s + step * seen.use_l_s @ more[None, :])
    up = slopes_at(zone.drawn, shifted, zone.drawn.model.roughness, before=at).head_m
    np.testing.assert_allclose(moved[:, :, node], (up - at.head_m) / step, atol=1e-4, rtol=5e-3)
