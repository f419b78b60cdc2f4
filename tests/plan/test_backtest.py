"""A ranking held against breaks that came after it was made."""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np
import pandas as pd
import pytest

from district.errors import StageError
from district.plan.backtest import backtest, until
from district.plan.fit import fit_rates
from district.plan.history import History, pipe_history
from district.renewal_results import Backtest
from district.schema.columns import check
from district.schema.renewal_tables import BACKTEST, BACKTEST_CURVE, DECILES
from district.settings import Settings
from district.simulate.break_trial import BreakTrial, draw_breaks_of_a_register
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of


@cache
def drawn() -> tuple[BreakTrial, History, Settings, Backtest]:
    trial = draw_breaks_of_a_register(21, pipes_count=8000, breaks_count=1600)
    settings = settings_of(record_dates=(date(trial.first, 1, 1), date(trial.last - 1, 12, 31)))
    every = pd.concat([trial.breaks, trial.later], ignore_index=True)
    history = pipe_history(
        trial.pipes, every, settings=settings, year=trial.last, cells=trial.cells
    )
    return trial, history, settings, backtest(history, year=trial.split, settings=settings)


def test_tables_keep_their_schema() -> None:
    found = drawn()[3]
    for table, frame in (
        (BACKTEST, found.table),
        (BACKTEST_CURVE, found.curve),
        (DECILES, found.deciles),
    ):
        assert list(check(table, frame, source=table.name)[1]) == []


def test_the_rates_beat_earlier_breaks_and_age_and_chance() -> None:
    table = drawn()[3].table.set_index("ranking")
    tenth = table["captured_10_share"]
    assert tenth["rates"] > max(tenth["breaks"], tenth["age"]) > tenth["random"]
    assert tenth["random"] == pytest.approx(0.1)
    assert table.loc["random", "area_share"] == pytest.approx(0.5)
    assert table.loc["breaks", "more_10_share_low"] > 0
    assert (table["captured_10_share_low"] <= tenth).all()


def test_nothing_that_came_after_was_known_before() -> None:
    """The ranking is that of a record which ends at the split."""
    trial, history, settings, _ = drawn()
    early = settings_of(record_dates=(date(trial.first, 1, 1), date(trial.split - 1, 12, 31)))
    alone = pipe_history(
        trial.pipes, trial.breaks, settings=early, year=trial.split, cells=trial.cells
    )
    cut = until(history, float(trial.split))
    assert list(cut.table["breaks_count"]) == list(alone.table["breaks_count"])
    assert cut.table["exposure_km_year"].to_numpy() == pytest.approx(
        alone.table["exposure_km_year"].to_numpy(), abs=1e-3
    )
    one, other = fit_rates(cut, settings=settings), fit_rates(alone, settings=early)
    assert one.value == pytest.approx(other.value, abs=2e-3)


def test_years_that_nobody_knows_are_not_told_by_pipes_laid_later() -> None:
    old = [{"pipe_id": f"O{n}", "installed_year": 1950.0 + n} for n in range(5)]
    new = [{"pipe_id": f"N{n}", "installed_year": 2015.0} for n in range(20)]
    rows = [(f"20{y:02d}-02-02", "U" if y % 2 else "O1") for y in range(1, 20)]
    unknown = {"pipe_id": "U", "installed_year": np.nan}
    with_new = history_of(pipes_of(unknown, *old, *new), breaks_of(*rows))
    alone = history_of(pipes_of(unknown, *old), breaks_of(*rows))
    cut, plain = until(with_new, 2012.0), until(alone, 2012.0)
    at = cut.table["pipe_id"].isin(plain.table["pipe_id"])
    assert list(cut.laid[at]) == list(plain.laid)
    assert list(cut.break_age) == list(plain.break_age)
    # It was in the ground all the time: it is ranked, and its later breaks are seen.
    found = backtest(with_new, year=2012, settings=settings_of())
    assert found.deciles["pipes_count"].sum() == 6
    assert found.deciles["seen_count"].sum() == 8


def test_what_was_seen_lies_within_what_was_expected() -> None:
    deciles = drawn()[3].deciles
    within = deciles["seen_count"].between(
        deciles["expected_count_low"], deciles["expected_count_high"]
    )
    assert within.sum() >= 8
    assert deciles["seen_count"].sum() == len(drawn()[0].later)
    assert deciles["expected_count"].max() < 1.3 * deciles["expected_count"].min()


def test_it_says_how_good_the_list_is() -> None:
    said = drawn()[3].said
    assert said[0].startswith("Made at the start of 2019 from 1")
    assert "It does better than earlier breaks alone, beyond chance." in said


@pytest.mark.parametrize("year", [1990, 2000, 2019, 2030])
def test_a_year_without_enough_breaks_on_both_sides_is_refused(year: int) -> None:
    pipes = pipes_of({"pipe_id": "A"}, {"pipe_id": "B"})
    history = history_of(pipes, breaks_of(*((f"20{y:02d}-02-02", "A") for y in range(1, 19))))
    with pytest.raises(StageError, match=r"at least 5 on either side .* 2000-01-01 to 2019-12-31"):
        backtest(history, year=year, settings=settings_of())


def test_without_a_record_there_is_nothing_to_hold_a_list_against() -> None:
    history = pipe_history(pipes_of({"pipe_id": "A"}), breaks_of(), settings=Settings(), year=2020)
    with pytest.raises(StageError, match="No break on record counts"):
        backtest(history, year=2015, settings=Settings())


def test_pipes_laid_after_are_not_ranked() -> None:
    pipes = pipes_of({"pipe_id": "A"}, {"pipe_id": "B"}, {"pipe_id": "N", "installed_year": 2016.0})
    rows = [(f"20{y:02d}-02-02", "AB"[y % 2]) for y in range(1, 20)]
    history = history_of(pipes, breaks_of(*rows, ("2018-03-03", "N")))
    found = backtest(history, year=2012, settings=settings_of())
    assert found.deciles["pipes_count"].sum() == 2
    assert found.deciles["seen_count"].sum() == 8
    assert np.isfinite(found.table["captured_10_share"]).all()
    assert any("So few breaks say little" in line for line in found.said)
    assert any("Only pipes still in use are ranked" in line for line in found.said)


def test_pipes_taken_out_since_are_ranked_and_watched_until_then() -> None:
    pipes = pipes_of(
        {"pipe_id": "A"}, {"pipe_id": "G", "status": "abandoned", "removed_year": 2016.0}
    )
    rows = [(f"20{y:02d}-02-02", "AG"[y % 2]) for y in range(1, 20) if y < 17 or y % 2 == 0]
    found = backtest(history_of(pipes, breaks_of(*rows)), year=2010, settings=settings_of())
    assert found.deciles["pipes_count"].sum() == 2
    assert found.deciles["seen_count"].sum() == 8
    assert not any("still in use" in line for line in found.said)
