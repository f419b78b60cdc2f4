"""The shortest round over pieces that must be walked, either way along each.

A rural postman's round: the pieces are required, the ways between them are the shortest there
are. Pieces are cut where ways meet, so that an order and a direction of each is all there is to
choose.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.hydraulics.model import Reals, Wholes

_SEED = 20_260_319
_KICKS_A_PIECE, _KICKS, _EVALUATED, _LEAST_KICKS = 20, 600, 60_000, 60
"""Times that a round is shaken and mended again: by piece, at most, and again fewer of many pieces,
so that the time does not grow with their square."""
_LONGEST_MOVED = 4
_BREAK_M, _SAME_M = 0.01, 0.001
_GAIN_M = 1e-7
_TRIED = 6


@dataclass(frozen=True, eq=False)
class Steps:
    """What it costs to go from one piece to the next.

    cost_m (2 n + 1, 2 n + 1)
        from a piece walked one way (2 i forwards, 2 i + 1 backwards) to another, or to and from
        where the round begins and ends (2 n).
    """

    cost_m: Reals

    @property
    def count(self) -> int:
        """How many pieces."""
        return (len(self.cost_m) - 1) // 2

    @property
    def home(self) -> int:
        """The number of where the round begins and ends."""
        return len(self.cost_m) - 1


def steps_between(apart_m: Reals) -> Steps:
    """Steps by the distances between the ends of pieces: shape (2 n + 1, 2 n + 1), symmetric; 2 i
    the start of a piece, 2 i + 1 its end, 2 n where the round begins and ends."""
    leave = np.arange(len(apart_m)) ^ 1
    leave[-1] = len(apart_m) - 1
    return Steps(apart_m[leave])


def walked_m(steps: Steps, tour: Wholes) -> float:
    """Metres between the pieces of a round, from its start and back: `tour` (n) names each piece
    with its direction."""
    whole = np.concatenate([[steps.home], tour, [steps.home]]).astype(np.int64)
    return float(steps.cost_m[whole[:-1], whole[1:]].sum())


def shortest_round(steps: Steps) -> Wholes:
    """The pieces in order, each with its direction, as short as was found: shape (n).

    Rounds made by insertion and by nearest neighbour are improved by turning a run of pieces and
    by moving up to four of them, either way, until neither helps; then shaken and mended again
    many times. From a fixed seed: the same pieces give the same round.
    """
    if steps.count == 0:
        return np.empty(0, dtype=np.int64)
    # Of rounds of one length the one with fewest breaks between pieces is the simplest to walk.
    steps = Steps(steps.cost_m + _BREAK_M * (steps.cost_m > _SAME_M))
    found = [_improved(steps, start) for start in (_inserted(steps), _nearest(steps))]
    tour = min(found, key=lambda t: round(walked_m(steps, t), 6))
    return _shaken(steps, tour) if steps.count > 2 else tour


def _nearest(steps: Steps) -> Wholes:
    left = np.ones(steps.home, dtype=bool)
    at, tour = steps.home, []
    for _ in range(steps.count):
        ahead = np.where(left, steps.cost_m[at, : steps.home], np.inf)
        at = int(np.argmin(ahead))
        left[[at, at ^ 1]] = False
        tour.append(at)
    return np.array(tour, dtype=np.int64)


def _inserted(steps: Steps) -> Wholes:
    """Each piece where it costs least, the one farthest from the round first."""
    cost, home = steps.cost_m, steps.home
    tour: Any = np.array([home, home])
    left = np.arange(steps.count)
    nearest = np.minimum(cost[home, :home:2], cost[home, 1:home:2])
    while len(left):
        place = int(np.argmax(nearest[left]))
        piece, left = int(left[place]), np.delete(left, place)
        both = np.array([2 * piece, 2 * piece + 1])
        extra = (
            cost[tour[:-1, None], both]
            + cost[both, tour[1:, None]]
            - cost[tour[:-1], tour[1:]][:, None]
        )
        at, way = np.unravel_index(np.argmin(extra), extra.shape)
        tour = np.insert(tour, int(at) + 1, both[way])
        ends = cost[np.ix_(both, np.arange(home))].min(axis=0)
        nearest = np.minimum(nearest, np.minimum(ends[::2], ends[1::2]))
    return np.asarray(tour[1:-1], dtype=np.int64)


def _shaken(steps: Steps, tour: Wholes) -> Wholes:
    random = np.random.default_rng(_SEED)
    best, best_m = tour, walked_m(steps, tour)
    count = len(tour)
    kicks = min(_KICKS_A_PIECE * count, _KICKS, max(_LEAST_KICKS, _EVALUATED // count))
    for _ in range(kicks):
        # Four runs of the round change places: no turn or move of a few mends that by itself.
        reach = min(count, 50)
        first = int(random.integers(0, count - reach + 1))
        a, b, c = np.sort(random.integers(first, first + reach + 1, 3))
        trial = np.concatenate([best[:a], best[b:c], best[a:b], best[c:]])
        joints = {int(trial[k % count]) >> 1 for p in (a, a + c - b, c) for k in (p - 1, p)}
        trial = _improved(steps, trial, joints)
        length = walked_m(steps, trial)
        if length < best_m - _GAIN_M:
            best, best_m = trial, length
    return best


def _improved(steps: Steps, tour: Wholes, pieces: set[int] | None = None) -> Wholes:
    """The round once no turn and no move about `pieces` (all if None) shortens it."""
    whole = np.concatenate([[steps.home], tour, [steps.home]]).astype(np.int64)
    waiting = deque(sorted(pieces) if pieces is not None else (tour >> 1).tolist())
    queued = set(waiting)
    while waiting:
        piece = waiting.popleft()
        queued.discard(piece)
        for _ in range(_TRIED):
            at = int(np.flatnonzero(whole[1:-1] >> 1 == piece)[0]) + 1
            touched = _better(steps.cost_m, whole, at)
            if touched is None:
                break
            whole, near = touched
            fresh = {int(t) >> 1 for t in near if t != steps.home} - queued
            waiting.extend(sorted(fresh))
            queued |= fresh
    return whole[1:-1]


def _better(cost: Reals, whole: Wholes, at: int) -> tuple[Wholes, Wholes] | None:
    """The round after the best turn or move that begins at place `at`, and who stands at its
    joints; None where none shortens it."""
    found = [f for f in (_turned(cost, whole, at), _moved(cost, whole, at)) if f is not None]
    if not found:
        return None
    _, better, near = min(found, key=lambda f: f[0])
    return better, near


def _turned(cost: Reals, whole: Wholes, at: int) -> tuple[float, Wholes, Wholes] | None:
    """The best run turned round that begins or ends at `at`."""
    inner = np.arange(1, len(whole) - 1)
    low, high = np.minimum(inner, at), np.maximum(inner, at)
    before, first, last, after = whole[low - 1], whole[low], whole[high], whole[high + 1]
    gain = cost[before, last ^ 1] + cost[first ^ 1, after] - cost[before, first] - cost[last, after]
    k = int(np.argmin(gain))
    if gain[k] > -_GAIN_M:
        return None
    better = whole.copy()
    better[low[k] : high[k] + 1] = whole[low[k] : high[k] + 1][::-1] ^ 1
    return float(gain[k]), better, np.array([before[k], first[k], last[k], after[k]])


def _moved(cost: Reals, whole: Wholes, at: int) -> tuple[float, Wholes, Wholes] | None:
    """The best move of a run of a few pieces from `at` to elsewhere, as it is or turned."""
    best: tuple[float, Any, Any] | None = None
    for longest in range(1, min(_LONGEST_MOVED, len(whole) - 1 - at) + 1):
        run = whole[at : at + longest]
        rest = np.concatenate([whole[:at], whole[at + longest :]])
        here, beyond = rest[:-1], rest[1:]
        gap = cost[here, beyond]
        saved = cost[whole[at - 1], run[0]] + cost[run[-1], whole[at + longest]] - gap[at - 1]
        for way in (run, run[::-1] ^ 1):
            extra = cost[here, way[0]] + cost[way[-1], beyond] - gap - saved
            extra[at - 1] = 0.0  # where it stands; turned there it is a turn
            k = int(np.argmin(extra))
            if extra[k] < -_GAIN_M and (best is None or extra[k] < best[0]):
                moved = np.concatenate([rest[: k + 1], way, rest[k + 1 :]])
                near = np.array([here[k], *way[[0, -1]], beyond[k], *whole[[at - 1, at + longest]]])
                best = (float(extra[k]), moved, near)
    return best
