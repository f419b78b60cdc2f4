"""Estimates with 95 % limits as arrays, and how their limits join.

Limits of independent figures join by squares: Thornton, Sturm & Kunkel 2008, Water Loss Control,
2nd ed., section 7.8. Figures that share an assumption go up and down together: their limits add.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float64]


class Estimate(NamedTuple):
    """Values and their lower and upper limits, arrays of one shape."""

    value: Reals
    low: Reals
    high: Reals

    def columns(self, name: str) -> dict[str, Reals]:
        """The estimate as three columns of a table."""
        return {f"{name}{end}": x for end, x in zip(("", "_low", "_high"), self, strict=True)}


def within(value: Any, *, spread_share: float) -> Estimate:
    """Values that may lie so far from the truth, as a share of each; never below 0.

    >>> within(100.0, spread_share=0.3)[1:]
    (array(70.), array(130.))
    """
    x = np.asarray(value, dtype=float)
    low = x * max(0.0, 1.0 - spread_share)
    return Estimate(x, np.asarray(low), np.asarray(x * (1.0 + spread_share)))


def scaled(estimate: Estimate, by: Any) -> Estimate:
    """An estimate times a figure that is known."""
    factor = np.asarray(by, dtype=float)
    return Estimate(*(np.asarray(x * factor) for x in estimate))


def product(one: Estimate, other: Estimate) -> Estimate:
    """Two independent estimates of at least 0, multiplied: to the first order, never below 0."""
    value = one.value * other.value
    below, above = (
        np.hypot(abs(one[n] - one.value) * other.value, abs(other[n] - other.value) * one.value)
        for n in (1, 2)
    )
    return Estimate(value, np.maximum(value - below, 0.0), value + above)


def total(*parts: Estimate) -> Estimate:
    """The sum of independent estimates of at least 0."""
    value = np.asarray(sum(p.value for p in parts), dtype=float)
    below, above = (np.sqrt(sum((p[n] - p.value) ** 2 for p in parts)) for n in (1, 2))
    return Estimate(value, np.maximum(value - below, 0.0), value + above)


def by_group(
    estimate: Estimate, group: Any, *, groups_count: int, as_one: bool, weight: Any = None
) -> Estimate:
    """Sums over groups 0, 1, ...: limits add where the members share an assumption (`as_one`), else
    they join by squares. With `weight` each counts by so much."""
    weights = np.ones(len(estimate.value)) if weight is None else np.asarray(weight, dtype=float)

    def summed(x: Any) -> Reals:
        return np.bincount(group, weights=x, minlength=groups_count).astype(float)

    value = summed(estimate.value * weights)
    if as_one:
        return Estimate(value, summed(estimate.low * weights), summed(estimate.high * weights))
    below, above = (
        np.sqrt(summed(((estimate[n] - estimate.value) * weights) ** 2)) for n in (1, 2)
    )
    return Estimate(value, np.maximum(value - below, 0.0), value + above)


def of(table: Any, name: str) -> Estimate:
    """An estimate of a table by the name of its middle column."""
    return Estimate(*(table[f"{name}{end}"].to_numpy(dtype=float) for end in ("", "_low", "_high")))
