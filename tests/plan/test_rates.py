"""Expected breaks in the year of the plan: calibrated, with limits that hold the truth."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import linalg, stats

from district.plan.failure_rates import pipe_rates
from district.plan.fit import fit_rates
from district.plan.history import pipe_history
from district.plan.rates import DRAWS, drawn_rates, drawn_terms
from district.renewal_results import PipeRates
from district.schema.columns import check
from district.schema.renewal_tables import PIPE_RATES
from district.simulate.break_trial import BreakTrial, draw_breaks_of_a_register
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of


@cache
def drawn() -> tuple[BreakTrial, PipeRates]:
    trial = draw_breaks_of_a_register(11, pipes_count=12_000, breaks_count=2400)
    dates = (pd.Timestamp(trial.first, 1, 1).date(), pd.Timestamp(trial.split - 1, 12, 31).date())
    settings = settings_of(record_dates=dates)
    history = pipe_history(
        trial.pipes, trial.breaks, settings=settings, year=trial.split, cells=trial.cells
    )
    return trial, pipe_rates(history, settings=settings, year=trial.split)


def test_the_table_keeps_its_schema() -> None:
    _, rates = drawn()
    _, wrong = check(PIPE_RATES, rates.table, source="rates")
    assert list(wrong) == []
    assert rates.draws.shape == (len(rates.table), DRAWS)


def test_rates_are_calibrated_by_decile() -> None:
    """Later breaks against expected ones, within the limits of chance (chi-squared by tenths)."""
    trial, rates = drawn()
    seen = trial.later[trial.later["date"].dt.year == trial.split].groupby("pipe_id").size()
    table = rates.table.set_index("pipe_id")
    got = seen.reindex(table.index, fill_value=0).to_numpy(dtype=float)
    expected = table["breaks_per_year"].to_numpy()
    tenth = pd.qcut(expected, 10, labels=False)
    means, counts = np.bincount(tenth, expected), np.bincount(tenth, got)
    draws = np.array([rates.draws[tenth == n].sum(axis=0, dtype=float) for n in range(10)])
    chance = np.random.default_rng(2).poisson(draws)
    low, high = np.percentile(chance, (0.1, 99.9), axis=1)
    assert ((low <= counts) & (counts <= high)).all()
    truth = pd.Series(trial.true_rate, index=trial.pipes["pipe_id"]).reindex(table.index)
    true = np.bincount(tenth, truth.to_numpy())
    assert means == pytest.approx(true, rel=0.25, abs=0.5)
    assert means.sum() == pytest.approx(true.sum(), rel=0.06)


def test_few_breaks_are_told_in_the_mean_over_registers() -> None:
    """Some twenty breaks on each register: expected breaks in all, over the true ones."""
    shares = []
    for seed in range(12):
        trial = draw_breaks_of_a_register(seed, pipes_count=300, breaks_count=20)
        dates = (
            pd.Timestamp(trial.first, 1, 1).date(),
            pd.Timestamp(trial.split - 1, 12, 31).date(),
        )
        settings = settings_of(record_dates=dates)
        history = pipe_history(trial.pipes, trial.breaks, settings=settings, year=trial.split)
        expected, _ = drawn_rates(
            fit_rates(history, settings=settings), history, year=float(trial.split)
        )
        shares.append(expected.sum() / trial.true_rate.sum())
    away = np.std(shares, ddof=1) / np.sqrt(len(shares))
    assert abs(np.mean(shares) - 1.0) < 2.5 * away
    assert np.mean(shares) < 1.08


def test_draws_are_the_same_whichever_way_the_machine_finds_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    trial = draw_breaks_of_a_register(3, pipes_count=300, breaks_count=60)
    settings = settings_of()
    history = pipe_history(
        trial.pipes, trial.breaks, settings=settings, year=trial.split, cells=trial.cells
    )
    fit = fit_rates(history, settings=settings)
    theta, _ = drawn_terms(fit)
    # SciPy's eigenvectors by another routine of LAPACK: with other signs, and turned where several
    # of one value are alike.
    monkeypatch.setattr(np.linalg, "eigh", lambda a: linalg.eigh(a, driver="ev"))
    assert drawn_terms(fit)[0] == pytest.approx(theta, abs=1e-9)
    assert np.cov(theta) == pytest.approx(fit.covariance, abs=0.25)


def test_the_first_tenth_captures_nine_tenths_of_what_the_true_rates_would() -> None:
    trial, rates = drawn()
    table = rates.table.set_index("pipe_id").reindex(trial.pipes["pipe_id"])
    length = trial.pipes["length_m"].to_numpy()

    def captured(rate: np.ndarray) -> float:
        order = np.argsort(-rate / length)
        far = np.cumsum(length[order]) / length.sum()
        return float(np.interp(0.1, far, np.cumsum(trial.true_rate[order]) / trial.true_rate.sum()))

    ours = captured(table["breaks_per_year"].to_numpy())
    assert ours >= 0.9 * captured(trial.true_rate)


def test_limits_hold_nineteen_of_twenty_true_rates() -> None:
    trial, rates = drawn()
    truth = pd.Series(trial.true_rate, index=trial.pipes["pipe_id"])
    table = rates.table.set_index("pipe_id")
    true = truth.reindex(table.index)
    held = true.between(table["breaks_per_year_low"], table["breaks_per_year_high"]).mean()
    # One set of terms for all pipes: they are right or wrong together.
    assert 0.88 < held < 0.985


def test_alike_pipes_have_the_same_rate_whatever_their_id() -> None:
    pipes = pipes_of(*({"pipe_id": p} for p in "ABCD"))
    rates = pipe_rates(
        history_of(pipes, breaks_of(("2010-02-02", "B"))), settings=settings_of(), year=2020
    )
    row = rates.table.set_index("pipe_id")["breaks_per_year"]
    assert row["A"] == row["C"] == row["D"] < row["B"]
    assert list(rates.table.sort_values("rank")["pipe_id"]) == ["B", "A", "C", "D"]


def test_alike_pipes_rank_as_people_sort_their_ids() -> None:
    # Of one age and material and never broken, but of lengths by which rounding differs.
    pipes = pipes_of(*({"pipe_id": f"P{n}"} for n in (10, 2, 1, 33, 4)))
    history = pipe_history(pipes, breaks_of(), settings=settings_of(record_dates=()), year=2020)
    table = pipe_rates(history, settings=settings_of(record_dates=()), year=2020).table
    assert list(table.sort_values("rank")["pipe_id"]) == ["P1", "P2", "P4", "P10", "P33"]
    pipes["length_m"] = [0.1 * n for n in (3, 7, 11, 13, 17)]
    history = pipe_history(pipes, breaks_of(), settings=settings_of(record_dates=()), year=2020)
    table = pipe_rates(history, settings=settings_of(record_dates=()), year=2020).table
    assert list(table.sort_values("rank")["pipe_id"]) == ["P1", "P2", "P4", "P10", "P33"]


def test_a_pipes_own_breaks_are_those_of_a_gamma_and_poisson() -> None:
    # The posterior mean of a gamma factor: (a + n) / (a + m); SciPy's gamma as the reference.
    pipes = pipes_of(*({"pipe_id": f"P{n:02d}"} for n in range(40)))
    breaks = breaks_of(*((f"20{n % 20:02d}-06-06", f"P{n:02d}") for n in range(30)))
    rates = pipe_rates(history_of(pipes, breaks), settings=settings_of(growth="none"), year=2020)
    shape = rates.terms.set_index("term").loc["unlikeness of like pipes", "factor_index"]
    row = rates.table.set_index("pipe_id")
    broken, whole = row.loc["P00"], row.loc["P39"]
    assert broken["own_index"] / whole["own_index"] == pytest.approx((shape + 1) / shape)
    expected = (shape + 1) / broken["own_index"] - shape
    posterior = stats.gamma(shape + 1, scale=1 / (shape + expected))
    assert broken["own_index"] == pytest.approx(posterior.mean())


def test_pipes_that_are_gone_only_tell_of_their_like() -> None:
    gone = [
        {"pipe_id": f"G{n}", "status": "abandoned", "removed_year": 2015.0} for n in range(1, 9)
    ]
    pipes = pipes_of({"pipe_id": "A"}, *gone)
    breaks = breaks_of(*((f"20{y:02d}-06-06", f"G{n}") for n in range(1, 9) for y in (n, n + 4)))
    rates = pipe_rates(history_of(pipes, breaks), settings=settings_of(), year=2020)
    assert list(rates.table["pipe_id"]) == ["A"]
    alone = pipe_rates(history_of(pipes[:1], breaks_of()), settings=settings_of(), year=2020)
    assert rates.table["breaks_per_year"].iloc[0] > alone.table["breaks_per_year"].iloc[0]
