"""Probabilities by part and by stretch of pipe, with their limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.break_rates import Reals
from district.locate.pooling import Wholes
from district.locate.prior import Prior
from district.locate.spots import Spots
from district.locate.stretches import summed
from district.locate.zone_search import ZoneSearch

_LIMITS = (0.025, 0.975)


@dataclass(frozen=True, eq=False)
class Chances:
    """Estimates by part or by stretch: each a middle value with its lower and upper limit.

    prior_leaks_per_year
        expected leaks.
    probability_share
        share of the flow looked for; of a zone without a search, of the leaks expected there.
    any_leak_share
        probability that at least one of the leaks looked for is there; they are taken as
        independent of each other.
    """

    prior_leaks_per_year: tuple[Reals, Reals, Reals]
    probability_share: tuple[Reals, Reals, Reals]
    any_leak_share: tuple[Reals, Reals, Reals]

    def columns(self) -> dict[str, Reals]:
        """The estimates as columns, with their limits."""
        return {
            f"{name}{end}": values
            for name, estimate in vars(self).items()
            for end, values in zip(("", "_low", "_high"), estimate, strict=True)
        }


def chances(
    prior: Prior,
    spots: Spots,
    cell: Wholes,
    searches: Sequence[ZoneSearch],
    stretch: Wholes,
) -> tuple[Chances, Chances]:
    """Estimates by part and by stretch.

    Parameters: `cell` and `stretch` number of each part's zone and stretch, both 0, 1, ... The
    limits come from draws of the expected leaks, each multiplied by what the evidence says of the
    part; how sure that evidence is of itself is in the probability, not in its limits.
    """
    expected = prior.table["leaks_per_year"].to_numpy(dtype=float)
    stretches = int(stretch.max(initial=-1)) + 1
    probability = shares(expected, cell)
    drawn = shares(prior.draws, cell)
    several = []
    for search in searches:
        own, at = np.unique(spots.pipe[search.walk.spot], return_inverse=True)
        of_leak = [np.bincount(at, f.probability, len(own)).astype(float) for f in search.leaks]
        drawn_leak = [_drawn(p, probability[own], drawn[own]) for p in of_leak]
        probability[own] = np.tensordot(search.flow_share, np.array(of_leak), 1)
        drawn[own] = sum(w * d for w, d in zip(search.flow_share, drawn_leak, strict=True))
        if len(of_leak) > 1:
            several.append((own, of_leak, drawn_leak))
    by_stretch = summed(probability, stretch, stretches)
    drawn_by_stretch = summed(drawn, stretch, stretches)
    any_part, any_drawn = probability.copy(), drawn.copy()
    any_stretch, any_drawn_stretch = by_stretch.copy(), drawn_by_stretch.copy()
    for own, of_leak, drawn_leak in several:
        any_part[own], any_drawn[own] = _any(of_leak), _any(drawn_leak)
        there, local = np.unique(stretch[own], return_inverse=True)
        any_stretch[there] = _any([summed(p, local, len(there)) for p in of_leak])
        any_drawn_stretch[there] = _any([summed(d, local, len(there)) for d in drawn_leak])
    expected_stretch = summed(expected, stretch, stretches)
    return (
        Chances(
            _limited(expected, prior.draws),
            _limited(probability, drawn),
            _limited(any_part, any_drawn),
        ),
        Chances(
            _limited(expected_stretch, summed(prior.draws, stretch, stretches)),
            _limited(by_stretch, drawn_by_stretch),
            _limited(any_stretch, any_drawn_stretch),
        ),
    )


def shares(values: Reals, group: Wholes) -> Reals:
    """Each value as a share of its group's sum (along the first axis); even where all are 0."""
    count = int(group.max(initial=-1)) + 1
    total = summed(values, group, count)[group]
    members = np.bincount(group, minlength=count)[group].astype(float)
    even = 1 / (members if values.ndim == 1 else members[:, None])
    return np.asarray(np.where(total > 0, values / np.where(total > 0, total, 1), even))


def _drawn(probability: Reals, usual: Reals, usual_drawn: Reals) -> Reals:
    """Draws of a probability: those of the prior, each part weighed as the evidence weighs it."""
    told = probability / np.maximum(usual, 1e-300)
    weighed = usual_drawn * told.astype(usual_drawn.dtype)[:, None]
    return np.asarray(weighed / np.maximum(weighed.sum(axis=0), 1e-30))


def _any(chance: Sequence[Any]) -> Reals:
    missed = np.ones_like(chance[0])
    for one in chance:
        missed *= 1 - np.minimum(one, 1.0)
    return np.asarray(1 - missed)


def _limited(middle: Reals, draws: Reals) -> tuple[Reals, Reals, Reals]:
    ordered = np.sort(draws, axis=1)
    last = draws.shape[1] - 1
    low, high = (ordered[:, round(q * last)].astype(float) for q in _LIMITS)
    return middle, np.minimum(low, middle), np.maximum(high, middle)
