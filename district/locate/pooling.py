"""Break history by Gamma-Poisson partial pooling: few pipes or one break do not lead by luck."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import gammaln

from district.break_rates import Reals

Wholes = np.ndarray[Any, np.dtype[np.int64]]

_SHAPES: Reals = np.geomspace(0.3, 30.0, 60)
DISTRICT_SHAPE = 1.5
"""The district's own level may lie far from the published mean: gamma of this shape about it
(95 % from 0.07 to 3.1 times). Assumption."""
GROUP_SHAPE = 8.0
"""A material's level in the district about the district's: within a factor of about 2.
Assumption."""
USUAL_SHAPE = 2.0
"""Unlikeness of pipes of one group where the breaks are too few to tell. Assumption."""
_SURE = 0.7  # spread of log shape about the usual, before the breaks are seen


@dataclass(frozen=True, eq=False)
class Pooled:
    """Gamma posteriors of the factors on the expected rate: shape and rate of each.

    The rate of a unit is expected x district x its group x its own. Groups are numbered 0, 1, ...
    """

    district_shape: float
    district_rate: float
    group_shape: Reals
    group_rate: Reals
    unit_shape: Reals
    unit_rate: Reals

    def mean(self, group: Wholes) -> Reals:
        """Expected factor of each unit."""
        level = self.district_shape / self.district_rate * self.group_shape / self.group_rate
        return np.asarray(level[group] * self.unit_shape / self.unit_rate, dtype=float)


def pooled(expected: Reals, breaks: Reals, group: Wholes, *, groups_count: int) -> Pooled:
    """Pool breaks over the district, over groups, and over the units of a group.

    Parameters: `expected` breaks of each unit over the time watched, by published rates; `breaks`
    seen; `group` number of each unit. All shape (units,), any order; the outcome of a unit does
    not hang on it.

    A unit's breaks are Poisson with mean expected x level of its group x own factor; the own
    factor is gamma with mean 1 and a shape found from the breaks (greatest marginal likelihood,
    negative binomial, with a weak prior about the usual). Source: Gelman et al., Bayesian Data
    Analysis, 3rd ed., chapters 2.6 and 5 (from memory).
    """
    district_shape = DISTRICT_SHAPE + float(breaks.sum())
    district_rate = DISTRICT_SHAPE + float(expected.sum())
    level = district_shape / district_rate
    by_group = [np.bincount(group, w, groups_count).astype(np.float64) for w in (breaks, expected)]
    group_shape, group_rate = GROUP_SHAPE + by_group[0], GROUP_SHAPE + level * by_group[1]
    mean = expected * level * (group_shape / group_rate)[group]
    shape = _shape(mean, breaks)
    return Pooled(
        district_shape, district_rate, group_shape, group_rate, shape + breaks, shape + mean
    )


def _shape(mean: Reals, breaks: Reals) -> float:
    watched = mean > 0
    if not watched.any():
        return USUAL_SHAPE
    # Units without a break need no gamma function: only their count of logs.
    broken = watched & (breaks > 0)
    m, k = mean[broken], breaks[broken]
    a = _SHAPES[:, None]
    quiet = mean[watched & ~broken]
    fit = (gammaln(a + k) - gammaln(a) + a * np.log(a / (a + m)) + k * np.log(m / (a + m))).sum(
        axis=1
    ) + (a * np.log(a / (a + quiet))).sum(axis=1)
    fit = fit - (np.log(_SHAPES / USUAL_SHAPE) / _SURE) ** 2 / 2
    return float(_SHAPES[int(np.argmax(fit))])
