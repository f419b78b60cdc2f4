"""The likelihood of a record of breaks, held against SciPy's distributions and derivatives."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import sparse, stats
from scipy.optimize import approx_fprime

from district.plan.growth import FORMS, relative_rate
from district.plan.likelihood import Record, expected, log_posterior, slopes

GROWTH = {"exponential": 0.03, "power": 1.4, "none": 0.0}


def made(form: str, *, precision: float = 0.0, seed: int = 5, count: int = 60) -> Record:
    rng = np.random.default_rng(seed)
    matrix = sparse.csr_matrix(np.column_stack([np.ones(count), rng.normal(size=(count, 2))]))
    first = rng.uniform(5, 70, count)
    last = first + rng.uniform(1, 25, count)
    breaks = rng.poisson(1.3, count).astype(float)
    on = np.repeat(np.arange(count), breaks.astype(int))
    return Record(
        matrix=matrix,
        base=rng.normal(-3, 0.3, count),
        ages=(first, last),
        breaks=breaks,
        break_age=rng.uniform(first[on], last[on]),
        mean=np.array([0.1, -0.2, 0.0, GROWTH[form]]),
        precision=np.full(4, precision),
        form=form,
    )


THETA = np.array([0.3, 0.2, -0.4])


def theta(form: str) -> Any:
    return np.append(THETA, GROWTH[form])


def test_without_growth_it_is_the_negative_binomial() -> None:
    # SciPy's nbinom, general-purpose reference: n breaks at mean m and shape a.
    record = made("none")
    mean, years = expected(record, theta("none"))
    shape = 1.7
    known = stats.nbinom.logpmf(record.breaks, shape, shape / (shape + mean)).sum()
    ours = log_posterior(record, theta("none"), log_shape_index=np.log(shape))
    # Ours is of the times of the breaks too, even over the watch, and without n!.
    of_times = -(record.breaks * np.log(years)).sum()
    factorials = np.log([float(np.prod(np.arange(1, n + 1))) for n in record.breaks]).sum()
    assert ours == pytest.approx(known + factorials + of_times, rel=1e-9)


@pytest.mark.parametrize("form", ["exponential", "power"])
def test_growth_adds_where_in_its_watch_each_break_fell(form: str) -> None:
    record = made(form)
    at = theta(form)
    mean, years = expected(record, at)
    shape = 0.9
    known = stats.nbinom.logpmf(record.breaks, shape, shape / (shape + mean)).sum()
    factorials = np.log([float(np.prod(np.arange(1, n + 1))) for n in record.breaks]).sum()
    density = (
        np.log(relative_rate(form, at[-1], record.break_age)).sum()
        - (record.breaks * np.log(years)).sum()
    )
    ours = log_posterior(record, at, log_shape_index=np.log(shape))
    assert ours == pytest.approx(known + factorials + density, rel=1e-9)


@pytest.mark.parametrize("form", FORMS)
def test_slopes_are_those_of_the_function(form: str) -> None:
    record, at = made(form, precision=2.0), theta(form)
    gradient, second = slopes(record, at, log_shape_index=0.4)

    def value(x: Any) -> float:
        return log_posterior(record, x, log_shape_index=0.4)

    def slope(x: Any) -> Any:
        return slopes(record, x, log_shape_index=0.4)[0]

    moving = slice(None) if form != "none" else slice(0, 3)
    assert gradient[moving] == pytest.approx(
        approx_fprime(at, value, 1e-6)[moving], rel=2e-3, abs=2e-3
    )
    numeric = -approx_fprime(at, slope, 1e-6)[moving, moving]
    assert second[moving, moving] == pytest.approx(numeric, rel=5e-3, abs=5e-2)


def test_a_prior_pulls_by_its_precision() -> None:
    free, held = made("none"), made("none", precision=3.0)
    away = theta("none") - held.mean
    less = log_posterior(free, theta("none"), log_shape_index=0.0) - log_posterior(
        held, theta("none"), log_shape_index=0.0
    )
    assert less == pytest.approx(1.5 * float(away @ away))
