"""What each uncertain input does to a figure, by the rules of the balance itself.

The limits of the balance are sums of squares over its inputs, to first order (see `limits`). So a
figure worked out again with one input uncertain and all others exact has as limits just what that
input does to it, and these effects, squared, add up to the figure's own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from district.estimates import Array, Estimate, estimate

Effect = tuple[Array, Array]
"""How far an input's limits lower and raise a figure; neither is negative."""
NEAR_SHARE = 0.1
"""Named inputs this near to a figure's variance are taken to be all: medians and means of nights
do not commute with sums of squares. Where more is missing, the rest is a row of its own."""
REST = "rest"


class Traced(NamedTuple):
    """A figure of several places, and what each input (by its key) does to it."""

    value: Array
    effects: dict[str, Effect]


def exact(value: Any) -> Traced:
    """A figure without limits."""
    return Traced(np.asarray(value, dtype=float), {})


def traced(key: str, part: Estimate) -> Traced:
    """A figure whose limits come from one input alone."""
    return Traced(part.value, {key: (part.value - part.low, part.high - part.value)})


def limits_of(figure: Traced) -> Estimate:
    """The figure with the limits that its inputs make together."""
    below, above = (_together(figure.effects, side, figure.value.shape) for side in (0, 1))
    return Estimate(figure.value, figure.value - below, figure.value + above)


def through(work: Callable[..., Estimate], *parts: Traced) -> Traced:
    """The figure `work` makes of `parts`, each input of each part followed through it.

    `work` takes as many estimates as there are parts and combines them by variance. An input of
    two parts counts as `work` counts it: once for each.
    """
    several = through_all(lambda *given: {"": work(*given)}, *parts)
    return several[""]


def through_all(work: Callable[..., Mapping[str, Estimate]], *parts: Traced) -> dict[str, Traced]:
    """The same for a `work` that makes several figures at once, by name."""
    plain = [estimate(part.value) for part in parts]
    made = {name: Traced(figure.value, {}) for name, figure in work(*plain).items()}
    for place, part in enumerate(parts):
        for key, (down, up) in part.effects.items():
            alone = Estimate(part.value, part.value - down, part.value + up)
            for name, moved in work(*plain[:place], alone, *plain[place + 1 :]).items():
                was = made[name].effects.get(key, (np.zeros(1), np.zeros(1)))
                made[name].effects[key] = (
                    np.hypot(was[0], moved.value - moved.low),
                    np.hypot(was[1], moved.high - moved.value),
                )
    return made


def fitted(figure: Traced, shown: Estimate, *, rest: str = REST) -> Traced:
    """The effects brought to the limits the balance shows.

    Where they are near them (`NEAR_SHARE`) or beyond, all are scaled alike; where they fall short
    by more, what is missing stands as an effect of its own under the key `rest`.
    """
    sides = []
    for side, distance in enumerate((shown.value - shown.low, shown.high - shown.value)):
        wanted = np.nan_to_num(distance)
        named = _together(figure.effects, side, shown.value.shape)
        near = named**2 >= (1.0 - NEAR_SHARE) * wanted**2
        scale = np.where(near, wanted / np.where(named > 0, named, 1.0), 1.0)
        missing = np.where(near, 0.0, np.sqrt(np.maximum(wanted**2 - named**2, 0.0)))
        sides.append((scale, missing))
    (lower, below), (upper, above) = sides
    effects = {k: (down * lower, up * upper) for k, (down, up) in figure.effects.items()}
    if np.any(below > 0) or np.any(above > 0):
        effects[rest] = (below, above)
    return Traced(shown.value, effects)


def uncut(figure: Traced, shown: Estimate) -> Estimate:
    """Limits of a figure that is not shown below nothing, the lower one as its inputs make it."""
    cut = (shown.value > 0) & (shown.low <= 0)
    below = _together(figure.effects, 0, shown.value.shape)
    low = np.where(cut, np.minimum(shown.low, shown.value - below), shown.low)
    return Estimate(shown.value, low, shown.high)


def taken_up(figure: Traced, shown: Estimate, *, key: str) -> Traced:
    """The effects with that of `key` made larger or smaller, so that they give the limits shown.

    For the scatter of nights, which is what the others differ by from night to night. Where it
    would have to change by more than `NEAR_SHARE` of the variance it is left: see `fitted`.
    """
    others = {k: e for k, e in figure.effects.items() if k != key}
    filled = []
    for side, distance in enumerate((shown.value - shown.low, shown.high - shown.value)):
        wanted = np.nan_to_num(distance) ** 2
        left = wanted - _together(others, side, shown.value.shape) ** 2
        was = np.broadcast_to(np.nan_to_num(figure.effects[key][side]), left.shape)
        near = np.abs(left - was**2) <= NEAR_SHARE * wanted
        filled.append(np.where(near & (left >= 0), np.sqrt(np.maximum(left, 0.0)), was))
    return Traced(figure.value, {**figure.effects, key: (filled[0], filled[1])})


def pooled(figure: Traced, shown: Estimate, *, same: Callable[[str], str]) -> Traced:
    """A sum over places whose limits add: the effects of all places on it, as one place.

    The distance to a limit of the sum is the sum of the places' distances; each input has of it
    what it has of theirs. `same` gives the key under which inputs of several places are one.
    """
    sides: list[dict[str, float]] = []
    for side, distance in enumerate((shown.value - shown.low, shown.high - shown.value)):
        whole = _together(figure.effects, side, figure.value.shape)
        total = whole.sum()
        shares: dict[str, float] = {}
        for key, effect in figure.effects.items():
            moved = np.broadcast_to(np.nan_to_num(effect[side]), whole.shape)
            by_place = moved**2 / np.where(whole > 0, whole, 1.0)
            shares[same(key)] = shares.get(same(key), 0.0) + float(by_place.sum())
        wide = float(np.nan_to_num(distance).sum())
        sides.append(
            {k: wide * np.sqrt(v / total) if total > 0 else 0.0 for k, v in shares.items()}
        )
    return Traced(
        shown.value,
        {k: (np.array([sides[0][k]]), np.array([sides[1][k]])) for k in sides[0]},
    )


def variance_shares(effects: Mapping[str, Effect]) -> dict[str, Array]:
    """Each input's share of the figure's variance, both sides together; 0 where it has none."""
    squares = {
        k: np.nan_to_num(down) ** 2 + np.nan_to_num(up) ** 2 for k, (down, up) in effects.items()
    }
    total = sum(squares.values(), np.zeros(1))
    return {
        k: np.where(total > 0, s / np.where(total > 0, total, 1.0), 0.0) for k, s in squares.items()
    }


def _together(effects: Mapping[str, Effect], side: int, shape: tuple[int, ...]) -> Array:
    squares = np.zeros(shape)
    for effect in effects.values():
        squares = squares + np.nan_to_num(effect[side]) ** 2
    return np.sqrt(squares)
