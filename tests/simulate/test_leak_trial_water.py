"""Heads and flows of a drawn zone: the model it is, its leaks, and single hours."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import solve
from district.settings import Background
from district.simulate.leak_trial_bores import with_bores
from district.simulate.leak_trial_map import ZoneMap, furnish
from district.simulate.leak_trial_streets import draw_streets_of_zone
from district.simulate.leak_trial_use import draw_use, reference_use
from district.simulate.leak_trial_water import (
    Hours,
    TrueZone,
    leaking,
    single_hours,
    solved_hours,
    true_zone,
)

PLACES = pd.DataFrame(
    {"kind": ["main", "service", "main"], "pipe": [20, 20, 150], "share": [0.8, 0.3, 0.5]}
)


@cache
def zone_map(gates_count: int = 2) -> ZoneMap:
    rng = np.random.default_rng(10)
    streets = draw_streets_of_zone(
        rng, pipes_count=250, loops_share=0.17, block_m=60.0, gates_count=gates_count
    )
    return with_bores(furnish(rng, streets, loggers_count=6, metered_share=0.02), peak_loss_m=6.0)


@cache
def zone(gates_count: int = 2) -> TrueZone:
    return true_zone(
        zone_map(gates_count),
        PLACES,
        head_m=float(zone_map(gates_count).nodes["elevation_m"].max()) + 50.0,
        background=Background(),
        condition_factor_index=1.5,
    )


@cache
def hours(gates_count: int = 2) -> Hours:
    return solved_hours(
        zone(gates_count), reference_use(zone_map(gates_count)), zone(gates_count).background
    )


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
    without = solve(plain.model, use, openings=plain.background).head_m
    assert hours().states[8].head_m[: len(use)] == pytest.approx(without, abs=1e-6)


def test_a_leak_passes_its_flow_by_night_and_more_or_less_by_pressure() -> None:
    opened = leaking(zone(), reference_use(zone_map()), np.array([0]), np.array([1.5]))
    found = solved_hours(zone(), reference_use(zone_map()), opened, near=hours())
    night = found.leak_l_s[[2, 3]].mean(axis=0)
    # A little less than if it were alone: it lowers its own pressure.
    assert 0.9 * 1.5 < night[0] < 1.5
    assert (found.leak_l_s[:, 1:] == 0).all()
    pressure = [s.head_m[zone().leak_node[0]] for s in found.states]
    assert np.argmin(found.leak_l_s[:, 0]) == np.argmin(pressure)


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


def test_watched_heads_are_those_at_the_loggers() -> None:
    head = hours().states[7].head_m
    for row, (pipe, share) in enumerate(
        zip(zone_map().loggers["pipe"], zone_map().loggers["share"], strict=True)
    ):
        a, b = zone_map().pipes[["start", "end"]].to_numpy()[pipe]
        if pipe not in (20, 150):
            between = (1 - share) * head[a] + share * head[b]
            assert hours().head_m[7, row] == pytest.approx(between)


@pytest.mark.parametrize("gates_count", [1, 2])
def test_single_hours_are_near_those_solved_exactly(gates_count: int) -> None:
    drawn, true = zone_map(gates_count), zone(gates_count)
    use = draw_use(np.random.default_rng(1), drawn, pd.date_range("2025-03-03", periods=7))
    usual = hours(gates_count)
    departure = use.drawn_l_s - use.usual_l_s[use.reference]
    head, flow = single_hours(usual, use.reference, departure)
    loggers = len(drawn.loggers)
    errors = []
    for t in range(0, 168, 5):
        drawn_l_s = np.concatenate([use.drawn_l_s[t], np.zeros(3)])
        state = solve(
            true.model,
            drawn_l_s,
            openings=true.background,
            start=usual.states[use.reference[t]],
        )
        errors.append((true.watch @ state.head_m)[:loggers] - head[t])
        out = use.drawn_l_s[t].sum() + state.leakage_l_s.sum()
        assert flow[t].sum() == pytest.approx(out, rel=0.01)
        assert flow[t] == pytest.approx(state.flow_l_s[true.meter_link], rel=0.05, abs=0.1)
    # Beside 0.05 m, the noise of an hour's mean of readings.
    assert np.sqrt(np.mean(np.square(errors))) < 0.03


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
