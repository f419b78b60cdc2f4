"""A drawn zone as it truly is: pipes parted at leaks, background, valves."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import solve
from district.settings import Background
from district.simulate.leak_trial_use import reference_use
from district.simulate.leak_trial_zone import true_zone
from tests.simulate.drawn_zone import PLACES, zone, zone_map


def test_a_pipe_with_two_leaks_is_three_in_order() -> None:
    model, pipe = zone().model, zone_map().pipes.iloc[20]
    own = np.flatnonzero([str(name).startswith("P00020/") for name in model.link_id])
    assert model.length_m[own] / pipe["length_m"] == pytest.approx([0.3, 0.5, 0.2])
    assert [model.start[own[0]], model.end[own[2]]] == [pipe["start"], pipe["end"]]
    # The leak at 0.3 is the second of the table.
    assert list(model.end[own[:2]]) == list(zone().leak_node[[1, 0]])
    assert model.length_m.sum() == pytest.approx(zone_map().pipes["length_m"].sum())


def test_places_without_a_leak_change_no_head() -> None:
    plain = true_zone(
        zone_map(),
        PLACES.iloc[:0],
        head_m=float(zone().model.fixed_head_m[zone_map().source]),
        background=Background(),
        condition_factor_index=1.5,
    )
    use = reference_use(zone_map())[8]
    padded = np.concatenate([use, np.zeros(len(PLACES))])
    with_places = solve(zone().model, padded, openings=zone().background).head_m
    without = solve(plain.model, use, openings=plain.background).head_m
    assert with_places[: len(use)] == pytest.approx(without, abs=1e-6)


def test_background_is_that_of_the_components() -> None:
    drawn, given = zone_map(), Background()
    l_h = (
        given.mains_l_km_h * drawn.pipes["length_m"].sum() / 1000
        + given.connection_l_connection_h * len(drawn.taps)
        + given.private_l_km_h * drawn.taps["private_pipe_m"].sum() / 1000
    )
    at_50_m = zone().background.coefficient.sum() * 50.0**given.exponent
    # All but half of the first main, at the source.
    assert at_50_m == pytest.approx(1.5 * l_h / 3600, rel=0.05)


def test_a_shut_pipe_is_shut() -> None:
    shut = true_zone(
        zone_map(),
        PLACES,
        head_m=200.0,
        background=Background(),
        condition_factor_index=1.0,
        shut_pipe=30,
    )
    names = shut.model.link_id[~shut.model.is_open]
    assert [str(n).split("/")[0] for n in names] == ["P00030"]
