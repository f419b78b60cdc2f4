"""Tests of `district.locate.hearing`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import solve
from district.locate.hearing import Site, hear_zones, spread_out
from district.locate.listening import Listening
from district.locate.logger_noise import usual_hours
from district.locate.outlook import DRAWS
from district.locate.spots import Heard
from district.schema import empty
from district.schema.event_tables import EVENTS

Make = Callable[..., Heard]
PIPES = 82
ASKED = {"nights_count": 14}


def site(heard: Heard) -> Site:
    model = heard.calibrated.drawn.model
    x = (model.start % 8 + model.end % 8) / 2 * 100.0
    y = (model.start // 8 + model.end // 8) / 2 * 100.0
    return Site("V1", np.arange(len(model.start)), x, y)


def hear(heard: Heard, events: pd.DataFrame | None = None) -> dict[str, Listening]:
    return hear_zones(heard, [site(heard)], empty(EVENTS) if events is None else events, **ASKED)


def test_the_change_is_that_of_two_solved_states(heard_of: Make) -> None:
    """Finite differences of the solver: a little less used everywhere, as much drawn at a pipe."""
    heard = heard_of()
    told = hear_zones(heard, [site(heard)], empty(EVENTS), **ASKED)["V1"]
    drawn = heard.calibrated.drawn
    known = usual_hours(heard.demands, heard.pressures, drawn.logger_id)
    assert known is not None
    hours = known[0]
    flow = 0.001
    rows = np.flatnonzero(told.place[told.logger] < 0).reshape(4, -1)
    for block in (0, 3):
        at = hours.drawn_l_s[hours.block[hours.hour] == block].mean(axis=0)
        before = drawn.watch @ solve(drawn.model, at).head_m
        for pipe in (0, 30, 81):
            leak = at - flow / 48
            leak[[drawn.model.start[pipe], drawn.model.end[pipe]]] += flow / 2
            moved = (drawn.watch @ solve(drawn.model, leak).head_m - before) / flow
            assert told.change_m[rows[block], pipe] == pytest.approx(moved, rel=0.01, abs=1e-4)


def test_loggers_come_first_and_places_after(heard_of: Make) -> None:
    told = hear_zones(heard_of(), [site(heard_of())], empty(EVENTS), **ASKED)["V1"]
    count = len(told.logger_id)
    assert told.logger_id[:4] == ("L13", "L27", "L41", "")
    assert count == 3 + 40
    assert told.change_m.shape == (4 * count, PIPES)
    assert told.drawn_m.shape == (DRAWS, 4 * count, PIPES)
    assert told.noise.shape == (4 * count, 4 * count)
    assert np.linalg.eigvalsh(told.noise).min() > 0
    assert (np.abs(told.drawn_m).max(axis=(1, 2)) > 0).all()
    assert len(np.unique(told.noise_share)) == DRAWS
    assert len(told.wanted()) == 40


def test_a_model_that_is_no_evidence_is_not_heard(heard_of: Make) -> None:
    heard = heard_of(days=7)
    assert hear(replace(heard, calibrated=replace(heard.calibrated, reason="It fits badly."))) == {}
    assert hear(replace(heard, pressures=heard.pressures.iloc[:0])) == {}
    assert hear_zones(heard, [], empty(EVENTS), **ASKED) == {}
    elsewhere = replace(site(heard), cell_id="V9")
    assert hear_zones(heard, [elsewhere], empty(EVENTS), **ASKED) == {}


def test_without_a_usable_logger_places_are_still_judged(heard_of: Make) -> None:
    heard = heard_of(days=7)
    deaf = replace(heard.calibrated, usable=np.zeros(3, dtype=bool))
    told = hear_zones(replace(heard, calibrated=deaf), [site(heard)], empty(EVENTS), **ASKED)["V1"]
    assert not len(told.present())
    assert len(told.wanted()) == 40
    assert np.linalg.eigvalsh(told.noise).min() > 0


def test_nothing_is_written_to(heard_of: Make) -> None:
    heard = heard_of(days=7)
    pressures, rest = heard.pressures.copy(), heard.demands.rest_l_s.copy()
    rough = heard.calibrated.drawn.model.roughness.copy()
    hear(heard)
    pd.testing.assert_frame_equal(heard.pressures, pressures)
    assert (heard.demands.rest_l_s == rest).all()
    assert (heard.calibrated.drawn.model.roughness == rough).all()


def test_points_spread_out_are_far_from_each_other() -> None:
    random = np.random.default_rng(0)
    x, y = random.uniform(0, 1000, (2, 400))
    chosen = spread_out(x, y, 16)
    assert len(chosen) == 16
    assert (np.diff(chosen) > 0).all()
    apart = np.hypot(x[chosen, None] - x[chosen], y[chosen, None] - y[chosen])
    assert apart[~np.eye(16, dtype=bool)].min() > 150
    nearest = np.hypot(x[:, None] - x[chosen], y[:, None] - y[chosen]).min(axis=1)
    assert nearest.max() < 300
    assert spread_out(x[:5], y[:5], 16).tolist() == [0, 1, 2, 3, 4]
