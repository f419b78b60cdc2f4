"""Estimates with 95 % limits as arrays, and how limits join.

The rule (Thornton, Sturm & Kunkel 2008, *Water Loss Control*, section 7.8): the variance of a
component is (volume x limit / 1.96)², and variances add for sums and for differences. Where the
two limits lie at unequal distances, the lower and the upper distances are each added in
quadrature. Figures that share an assumption go up and down together: their limits add.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Z_95 = 1.96
"""Standard deviations to a 95 % limit, rounded as the rule prints it."""


class Estimate(NamedTuple):
    """A value with its 95 % limits; arrays of one shape, one unit."""

    value: Array
    low: Array
    high: Array

    def columns(self, name: str) -> dict[str, Array]:
        """The estimate as three columns of a table."""
        return {f"{name}{end}": x for end, x in zip(("", "_low", "_high"), self, strict=True)}


def estimate(value: Any, low: Any = None, high: Any = None) -> Estimate:
    """An `Estimate` from numbers or arrays; limits equal to the value where not given."""
    centre = np.asarray(value, dtype=float)
    return Estimate(
        centre,
        centre if low is None else np.asarray(low, dtype=float),
        centre if high is None else np.asarray(high, dtype=float),
    )


def from_deviation(value: Any, deviation: Any) -> Estimate:
    """Symmetric limits 1.96 standard deviations either side (same unit as `value`)."""
    centre, half = np.asarray(value, dtype=float), Z_95 * np.asarray(deviation, dtype=float)
    return Estimate(centre, centre - half, centre + half)


def within(value: Any, *, spread_share: float) -> Estimate:
    """Values that may lie so far from the truth, as a share of each; never below 0.

    >>> within(100.0, spread_share=0.3)[1:]
    (array(70.), array(130.))
    """
    x = np.asarray(value, dtype=float)
    low = x * max(0.0, 1.0 - spread_share)
    return Estimate(x, np.asarray(low), np.asarray(x * (1.0 + spread_share)))


def not_below_zero(part: Estimate) -> Estimate:
    """Of what cannot be negative, as use: the lower limit is shown as at least zero."""
    return Estimate(part.value, np.maximum(part.low, np.minimum(part.value, 0.0)), part.high)


def limit_variance(volume: Any, *, limit_share: Any) -> Array:
    """Variance of a component known to +- `limit_share` at 95 %; unit of `volume` squared.

    >>> round(float(limit_variance(7512.80, limit_share=0.0255)), 1)
    9553.7
    """
    return np.asarray((np.asarray(volume, dtype=float) * limit_share / Z_95) ** 2)


def combine_limits(*parts: Estimate, signs: Sequence[int] | None = None) -> Estimate:
    """The signed sum of independent parts, limits by variance.

    Parameters: `parts` of one shape and unit; `signs` +1 or -1 each (all +1 if not given).
    A part that is subtracted puts its upper limit into the lower limit of the result.
    """
    signs = signs or [1] * len(parts)
    shape = np.broadcast_shapes(*(p.value.shape for p in parts))
    value, below, above = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for part, sign in zip(parts, signs, strict=True):
        down, up = part.value - part.low, part.high - part.value
        value = value + sign * part.value
        below = below + (down if sign > 0 else up) ** 2
        above = above + (up if sign > 0 else down) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def multiply_limits(first: Estimate, second: Estimate) -> Estimate:
    """The product of two independent estimates, limits to first order by variance.

    Either may be negative: the limit that lowers the product is then the other one.
    """
    value = first.value * second.value
    below, above = np.zeros(value.shape), np.zeros(value.shape)
    for one, other in ((first, second.value), (second, first.value)):
        down, up = one.value - one.low, one.high - one.value
        below = below + (other * np.where(other >= 0, down, up)) ** 2
        above = above + (other * np.where(other >= 0, up, down)) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def scaled(part: Estimate, factor: Any) -> Estimate:
    """The estimate times an exact factor that is not negative (or NaN)."""
    by = np.asarray(factor, dtype=float)
    return Estimate(*(np.asarray(x * by) for x in part))


def inverted(part: Estimate) -> Estimate:
    """One over a positive estimate, limits to first order; NaN where the value is not above 0."""
    value = np.where(part.value > 0, 1.0 / np.where(part.value > 0, part.value, 1.0), np.nan)
    return Estimate(
        value,
        value - (part.high - part.value) * value**2,
        value + (part.value - part.low) * value**2,
    )


def total(*parts: Estimate) -> Estimate:
    """The sum of independent estimates of at least 0."""
    return not_below_zero(combine_limits(*parts))


def product(one: Estimate, other: Estimate) -> Estimate:
    """Two independent estimates of at least 0, multiplied."""
    return not_below_zero(multiply_limits(one, other))


def by_group(
    estimate: Estimate, group: Any, *, groups_count: int, as_one: bool, weight: Any = None
) -> Estimate:
    """Sums over groups 0, 1, ...: limits add where the members share an assumption (`as_one`), else
    they join by squares. With `weight` each counts by so much."""
    weights = np.ones(len(estimate.value)) if weight is None else np.asarray(weight, dtype=float)

    def summed(x: Any) -> Array:
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
