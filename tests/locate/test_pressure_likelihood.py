"""The likelihood against the normal density and Student's t of SciPy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_t

from district.locate import pressure_likelihood
from district.locate.pressure_likelihood import (
    BLOCK_SHARE,
    TAIL,
    Change,
    at_spots,
    broadened,
    log_likelihood,
)

RANDOM = np.random.default_rng(5)


def change(loggers: int = 3, blocks: int = 2, points: int = 6, draws: int = 4) -> Change:
    size = loggers * blocks
    root = RANDOM.normal(size=(size, size))
    noise = 0.01 * (root @ root.T + np.eye(size))
    made = RANDOM.normal(size=(points, size))
    return Change(
        seen_m=made[2] + np.linalg.cholesky(noise) @ RANDOM.normal(size=size) * 3,
        noise=noise,
        logger=np.tile(np.arange(loggers), blocks),
        block=np.repeat(np.arange(blocks), loggers),
        expected_m=made,
        size_spread_share=0.1,
        drawn_m=0.1 * RANDOM.normal(size=(points, size, draws)),
        first=np.arange(points - 1),
        second=np.arange(1, points),
        share=np.full(points - 1, 0.3),
    )


def test_it_is_students_t_with_the_whole_covariance(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pressure_likelihood, "BAD_LOGGER_SHARE", 1e-12)
    told = change()
    made = at_spots(told, told.expected_m, slice(None))
    drawn = at_spots(told, told.drawn_m, slice(None))
    expected = []
    for mean, draws in zip(made, drawn, strict=True):
        by_block = np.outer(mean, mean) * (told.block[:, None] == told.block)
        whole = told.noise + 0.01 * np.outer(mean, mean) + draws @ draws.T / draws.shape[1]
        whole = whole + BLOCK_SHARE**2 * by_block
        expected.append(multivariate_t(mean, whole, df=TAIL).logpdf(told.seen_m))
    found = log_likelihood(told)
    # SciPy's scale matrix is the covariance here: both measure (x - m)' S^-1 (x - m) / df.
    assert np.diff(found) == pytest.approx(np.diff(expected), rel=1e-6)


def test_a_bad_fit_makes_the_answer_broad() -> None:
    told = change()
    far = replace(told, seen_m=told.seen_m + 40 * RANDOM.normal(size=len(told.seen_m)))
    alike = log_likelihood(replace(far, noise=100 * far.noise))
    assert np.ptp(log_likelihood(far)) < 40
    assert np.isfinite(alike).all()


def test_a_fit_too_close_is_not_sure() -> None:
    told = change(draws=0)
    exact = replace(told, seen_m=told.expected_m[1])
    found = log_likelihood(exact)
    misfit = (exact.seen_m - at_spots(exact, exact.expected_m, slice(None)))[0]
    square = misfit @ np.linalg.solve(exact.noise, misfit)
    assert np.ptp(found) < square  # never more than the noise allows


def test_what_draws_do_not_span_is_added_where_the_leak_likely_is() -> None:
    told = change()
    added = np.diag(broadened(told, np.ones(len(told.share))).noise - told.noise)
    each = (at_spots(told, told.drawn_m, slice(None)) ** 2).mean(axis=2)
    assert (added >= each.min(axis=0) - 1e-12).all()
    assert (added <= each.max(axis=0) + 1e-12).all()
    known = replace(told, drawn_m=told.drawn_m[:, :, :0])
    assert broadened(known, np.ones(len(told.share))) is known


def test_one_shifted_logger_is_set_aside() -> None:
    told = replace(change(loggers=6, draws=0), share=np.zeros(5))
    clean = replace(told, seen_m=told.expected_m[2])
    shifted = replace(clean, seen_m=clean.seen_m + 1.0 * (told.logger == 4))
    assert log_likelihood(shifted).argmax() == log_likelihood(clean).argmax() == 2
