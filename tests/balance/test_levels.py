"""The two passes against one dense least-squares solution by a general-purpose solver."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from district.balance.contest import Chance
from district.balance.levels import levelled, none_added
from district.balance.shifts import Noise

DAYS = 40
WHITE = np.array([[0.01, 0.006], [0.006, 0.04]])  # alike 0.3
DRIFT = np.diag([1e-4, 2e-4])
CHANGE = np.array([[1.0, 0.5], [0.5, 1.0]])


def noise(columns: int) -> Chance:
    one = np.ones(columns)
    return Chance(
        Noise(0.01 * one, 1e-4 * one), Noise(0.04 * one, 2e-4 * one), np.full(columns, 0.3)
    )


def residuals() -> tuple[Any, Any]:
    """Small against the sway of leaks; gaps in one column, another with nights alone."""
    rng = np.random.default_rng(3)
    night, day = 0.1 * rng.normal(size=(DAYS, 3)), 0.2 * rng.normal(size=(DAYS, 3))
    night[5, 0] = np.nan
    day[7:9, 1] = np.nan
    day[:, 2] = np.nan
    return night, day


def dense(day_of_change: int | None) -> Any:
    """Covariance of night and day of all days, in turn, as the docstring says."""
    at = np.arange(DAYS)
    whole = np.kron(np.minimum.outer(at, at).astype(float), DRIFT)
    whole += np.kron(np.eye(DAYS), WHITE) + np.kron(np.ones((DAYS, DAYS)), 1e6 * 0.04 * np.eye(2))
    if day_of_change is not None:
        since = (at >= day_of_change).astype(float)
        whole += np.kron(np.outer(since, since), CHANGE)
        # The day before may be half of it.
        before = 2 * (day_of_change - 1) + 1
        whole[before, before] += CHANGE[1, 1] / 3
    return whole


def sway(values: Any) -> Any:
    return (0.02 * (values - np.nanquantile(values, 0.5, axis=0, method="lower"))) ** 2


@pytest.mark.parametrize("column", [0, 1, 2])
def test_the_shift_of_every_day_is_that_of_generalised_least_squares(column: int) -> None:
    night, day = residuals()
    added = none_added(night.shape)
    change = 30 if column == 0 else None
    if change:
        added.put(np.array([change]), np.array([0]), (1.0, 1.0, 0.5))
    seen, _ = levelled(night, day, noise(3), added)
    y = np.column_stack([night[:, column], day[:, column]]).ravel()
    known = np.isfinite(y)
    whole = dense(change)
    with np.errstate(invalid="ignore"):
        more = [
            sway(v[:, [column]])[:, 0] if np.isfinite(v[:, column]).any() else np.zeros(DAYS)
            for v in (night, day)
        ]
    whole += np.diag(np.nan_to_num(np.column_stack(more).ravel()))
    whole = whole[np.ix_(known, known)]
    for t in (12, 25):
        f = np.kron((np.arange(DAYS) >= t)[:, None], np.eye(2))[known]
        precision = f.T @ np.linalg.solve(whole, f) + np.eye(2) / 1e9
        expected = np.linalg.solve(precision, f.T @ np.linalg.solve(whole, y[known]))
        assert seen.night_l_s[t, column] == pytest.approx(expected[0], rel=1e-4, abs=1e-6)
        assert seen.day_l_s[t, column] == pytest.approx(expected[1], rel=1e-4, abs=1e-6)
        h = np.linalg.inv(precision)
        assert seen.night_variance[t, column] == pytest.approx(h[0, 0], rel=1e-4)
        assert seen.covariance[t, column] == pytest.approx(h[0, 1], rel=1e-4, abs=1e-6)


def test_what_a_known_change_gains_is_the_difference_of_the_likelihoods() -> None:
    night, day = residuals()
    night, day = night[:, :1], day[:, :1]
    night[25:], day[25:] = night[25:] + 0.6, day[25:] + 0.5
    none, added = none_added(night.shape), none_added(night.shape)
    added.put(np.array([25]), np.array([0]), (1.0, 1.0, 0.5))
    gain = [float(levelled(night, day, noise(1), a)[1][0]) for a in (none, added)]
    y = np.column_stack([night, day]).ravel()
    known = np.isfinite(y)
    more = np.diag(np.nan_to_num(np.column_stack([sway(night), sway(day)]).ravel()))
    middle = np.ravel(np.column_stack([np.full(DAYS, night[0, 0]), np.full(DAYS, day[0, 0])]))
    exact = [
        multivariate_normal(mean=middle[known], cov=(c + more)[np.ix_(known, known)]).logpdf(
            y[known]
        )
        for c in (dense(None), dense(25))
    ]
    assert gain[1] - gain[0] == pytest.approx(exact[1] - exact[0], abs=0.01)


def test_nothing_known_tells_nothing() -> None:
    lost = np.full((10, 2), np.nan)
    seen, _ = levelled(lost, lost, noise(2), none_added(lost.shape))
    assert (seen.night_l_s == 0).all()
    assert seen.night_variance.min() > 1e8
