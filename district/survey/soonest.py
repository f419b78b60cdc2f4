"""When a leak would be found on a round, and the round that finds it soonest."""

from __future__ import annotations

import numpy as np

from district.hydraulics.model import Reals, Wholes
from district.survey.round import Steps

_SEED = 20_260_320
_GAIN = 1e-9
_KICKS, _EVALUATED = 60, 40_000
"""Times that a run of the round is turned and all is mended again; fewer of many pieces."""
_PASSES = 12


def passed_min(step_min: Steps, piece_min: Reals, tour: Wholes) -> Reals:
    """Minutes until half of each piece of a round is passed, in the order of the round: shape (n).

    Parameters: `step_min` steps told in minutes, `piece_min` (n) what each piece takes, `tour` (n).
    The middle stands for a leak that may be anywhere on the piece.
    """
    whole = np.concatenate([[step_min.home], tour]).astype(np.int64)
    own = piece_min[tour >> 1]
    return np.asarray(np.cumsum(step_min.cost_m[whole[:-1], whole[1:]] + own) - own / 2)


def expected_min(step_min: Steps, piece_min: Reals, weight: Reals, tour: Wholes) -> float:
    """Expected minutes until the leak is passed, if it is on one of the pieces of the tour.

    `weight` (n): how likely it is on each piece, or the flow expected there; any scale.
    """
    own = weight[tour >> 1]
    likely = own if own.sum() > 0 else np.ones(len(tour))
    return float(likely @ passed_min(step_min, piece_min, tour) / max(likely.sum(), 1e-300))


def soonest_round(step_min: Steps, piece_min: Reals, weight: Reals, *starts: Wholes) -> Wholes:
    """The round, as was found, that passes the leak soonest in expectation: shape (n).

    Begun from each of `starts` and from the piece of most weight a minute, one after the other;
    then each piece is moved to wherever that helps, either way, until none helps; then runs of it
    are turned and mended again. From a fixed seed.
    """
    if step_min.count == 0:
        return np.empty(0, dtype=np.int64)
    tried = [*starts, _greedy(step_min, piece_min, weight)]
    found = [_relocated(step_min, piece_min, weight, start) for start in tried]
    best = min(found, key=lambda t: round(expected_min(step_min, piece_min, weight, t), 9))
    random = np.random.default_rng(_SEED)
    least = expected_min(step_min, piece_min, weight, best)
    for _ in range(min(_KICKS, _EVALUATED // step_min.count**2)):
        a, b = np.sort(random.integers(0, step_min.count + 1, 2))
        turned = np.concatenate([best[:a], best[a:b][::-1] ^ 1, best[b:]])
        trial = _relocated(step_min, piece_min, weight, turned)
        takes = expected_min(step_min, piece_min, weight, trial)
        if takes < least - _GAIN:
            best, least = trial, takes
    return best


def _greedy(step_min: Steps, piece_min: Reals, weight: Reals) -> Wholes:
    own, gain = np.repeat(piece_min, 2), np.repeat(weight, 2)
    left = np.ones(step_min.home, dtype=bool)
    at, tour = step_min.home, []
    for _ in range(step_min.count):
        takes = step_min.cost_m[at, : step_min.home] + own
        worth = np.where(left, gain / np.maximum(takes, 1e-9), -np.inf)
        # Where nothing is likely any more the nearest comes next.
        ahead = worth if worth.max() > 0 else np.where(left, -takes, -np.inf)
        at = int(np.argmax(ahead))
        left[[at, at ^ 1]] = False
        tour.append(at)
    return np.array(tour, dtype=np.int64)


def _relocated(step_min: Steps, piece_min: Reals, weight: Reals, tour: Wholes) -> Wholes:
    for _ in range(_PASSES):
        before = expected_min(step_min, piece_min, weight, tour)
        for piece in np.argsort(-weight, kind="stable"):
            tour = _best_place(step_min, piece_min, weight, tour, int(piece))
        if expected_min(step_min, piece_min, weight, tour) > before - _GAIN:
            break
    return tour


def _best_place(
    step_min: Steps, piece_min: Reals, weight: Reals, tour: Wholes, piece: int
) -> Wholes:
    """The tour with one piece where, and walked the way, that it delays least by."""
    cost, rest = step_min.cost_m, tour[tour >> 1 != piece]
    count = len(rest)
    before = np.concatenate([[step_min.home], rest]).astype(np.int64)
    own = np.concatenate([[0.0], piece_min[rest >> 1]])
    ready = np.cumsum(np.concatenate([[0.0], cost[before[:-1], before[1:]]]) + own)
    after = np.append(np.cumsum(weight[rest >> 1][::-1])[::-1], 0.0)
    both = np.array([2 * piece, 2 * piece + 1])
    to_it = cost[before[:, None], both]
    on = np.zeros((count + 1, 2))
    on[:count] = cost[both, rest[:, None]] - cost[before[:-1], rest][:, None]
    late = weight[piece] * (ready[:, None] + to_it + piece_min[piece] / 2)
    late += after[:, None] * (to_it + piece_min[piece] + on)
    # The time of the last step back counts for nobody; ties go to the earlier place.
    at, way = np.unravel_index(int(np.argmin(late)), late.shape)
    return np.insert(rest, int(at), both[way])
