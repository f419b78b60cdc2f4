"""Drawn registers hold the breaks that were asked for, at the rates they tell."""

from __future__ import annotations

import pandas as pd
import pytest

from district.schema.columns import check
from district.schema.inputs import BREAKS
from district.simulate.break_trial import draw_breaks_of_a_register


def test_the_record_holds_about_the_breaks_asked_for() -> None:
    trial = draw_breaks_of_a_register(1, pipes_count=5000, breaks_count=900)
    assert len(trial.breaks) == pytest.approx(900, abs=5 * 30)
    assert len(trial.later) == pytest.approx(trial.expected_later.sum(), rel=0.15)
    assert trial.breaks["date"].dt.year.between(trial.first, trial.split - 1).all()
    assert trial.later["date"].dt.year.between(trial.split, trial.last - 1).all()
    assert list(check(BREAKS, trial.breaks, source="breaks")[1]) == []


def test_no_pipe_breaks_before_it_was_laid() -> None:
    trial = draw_breaks_of_a_register(2, pipes_count=5000, breaks_count=900)
    laid = trial.pipes.set_index("pipe_id")["installed_year"]
    assert (trial.breaks["date"].dt.year >= trial.breaks["pipe_id"].map(laid)).all()


def test_one_seed_draws_one_register() -> None:
    one, other = (draw_breaks_of_a_register(4, pipes_count=50, breaks_count=30) for _ in range(2))
    pd.testing.assert_frame_equal(one.breaks, other.breaks)
    pd.testing.assert_frame_equal(one.pipes, other.pipes)
