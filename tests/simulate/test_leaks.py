from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.schema import check
from district.schema.inputs import BREAKS
from district.simulate.clock import clock_of
from district.simulate.leaks import course, hidden_hazard, past_breaks
from district.simulate.scenario import Scenario
from district.simulate.story import SEEDS

BY_ID = {s.seed_id: s for s in SEEDS}


def test_leaks_lie_on_their_pipe_in_their_zone_apart_from_each_other(year):
    pipes = year.layout.pipes.set_index("pipe_id")
    assert year.leaks["pipe_id"].is_unique
    for seed, leak in year.leaks.iterrows():
        line = pipes.geometry[leak["pipe_id"]]
        assert line.interpolate(leak["share"], normalized=True).distance(leak.geometry) < 1e-6
        assert pipes["zone_id"][leak["pipe_id"]] == BY_ID[seed].zone_id
        assert pipes["part"][leak["pipe_id"]] != "link"
    assert year.leaks["exponent"].between(0.5, 1.5).all()
    assert year.leaks.geometry["L6"].distance(year.leaks.geometry["L7"]) > 150


def test_old_iron_breaks_more_than_new_plastic(year):
    hazard = hidden_hazard(year.layout, np.random.default_rng(1))
    pipes = year.layout.pipes
    rate = hazard.to_numpy() / (pipes.geometry.length.to_numpy() / 1000)
    by_material = pd.Series(rate).groupby(pipes["material"].to_numpy()).mean()
    assert by_material["cast_iron"] > 4 * by_material["polyethylene"]
    assert hazard.sum() / (pipes.geometry.length.sum() / 1000) == pytest.approx(0.13)


def test_breaks_meet_the_schema_and_come_after_laying(year):
    assert check(BREAKS, year.breaks, source="breaks")[1] == ()
    assert 40 <= len(year.breaks) <= 130
    laid = year.layout.pipes.set_index("pipe_id")["installed_year"].loc[year.breaks["pipe_id"]]
    assert (year.breaks["date"].dt.year.to_numpy() > laid.to_numpy()).all()
    assert year.breaks["date"].between("2001-01-01", "2024-12-31").all()


def test_breaks_follow_the_hazard(year):
    hazard = hidden_hazard(year.layout, np.random.default_rng(1))
    many = sum(len(past_breaks(year.layout, hazard, np.random.default_rng(n))) for n in range(20))
    years = (2025 - year.layout.pipes["installed_year"] - 1).clip(0, 24).to_numpy(dtype=float)
    assert many / 20 == pytest.approx((hazard.to_numpy() * years).sum(), rel=0.1)


def test_courses_start_grow_step_and_end():
    clock = clock_of(Scenario())
    day = pd.Series(clock.day_number)
    sudden = pd.Series(course(BY_ID["L1"], clock)).groupby(day).mean()
    assert (sudden[:189] == 0).all()
    assert sudden[364] == 1.2
    growing = pd.Series(course(BY_ID["L2"], clock)).groupby(day).mean()
    assert growing[364] == pytest.approx(0.9, rel=0.01)
    assert growing[305] == pytest.approx(0.45, abs=0.02)
    stepped = pd.Series(course(BY_ID["L3"], clock)).groupby(day).mean()
    assert list(stepped[[100, 180, 300]]) == pytest.approx([0.9, 0.35, 0])


def test_what_is_outside_the_record_does_not_happen():
    clock = clock_of(Scenario(first=date(2025, 1, 1), days=3))
    running = {s.seed_id for s in SEEDS if course(s, clock).any()}
    assert running == {"L5"}
