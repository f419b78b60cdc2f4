"""A round cut into shifts, each from the start and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Reals, Wholes
from district.survey.between import moved_between
from district.survey.round import Steps, shortest_round, walked_m
from district.survey.soonest import expected_min, passed_min

_TURNS, _TRIALS = 30, 2000
_BEGINS, _MENDED = 60, 3
_SAME_M, _GAIN_MIN = 0.001, 1e-6


@dataclass(frozen=True, eq=False)
class Pace:
    """How long things take.

    steps
        metres between the pieces.
    m_min
        metres walked in a minute between them.
    piece_min (n)
        minutes that searching each piece takes.
    shift_min
        minutes a shift has.
    """

    steps: Steps
    m_min: float
    piece_min: Reals
    shift_min: float

    @property
    def step_min(self) -> Steps:
        """The steps told in minutes."""
        return Steps(self.steps.cost_m / self.m_min)

    def takes_min(self, tour: Wholes) -> float:
        """Minutes of a shift: to its pieces, along them and back."""
        searched = float(self.piece_min[tour >> 1].sum())
        return walked_m(self.steps, tour) / self.m_min + searched


def cut_into_shifts(pace: Pace, tour: Wholes) -> list[Wholes]:
    """The tour cut where it needs fewest shifts, and of these cuts the shortest to walk.

    A piece that fits into no shift has one of its own.
    """
    home, cost, count = pace.steps.home, pace.steps.cost_m, len(tour)
    if not count:
        return []
    out, back = cost[home, tour], cost[tour, home]
    inner = np.append(0.0, np.cumsum(cost[tour[:-1], tour[1:]]))
    searched = np.append(0.0, np.cumsum(pace.piece_min[tour >> 1]))
    shifts = np.full(count + 1, np.inf)
    metres = np.full(count + 1, np.inf)
    begun = np.zeros(count + 1, dtype=np.int64)
    shifts[0] = metres[0] = 0.0
    for last in range(count):
        first = np.arange(last + 1)
        own_m = out[: last + 1] + inner[last] - inner[: last + 1] + back[last]
        own_min = own_m / pace.m_min + searched[last + 1] - searched[: last + 1]
        fits = (own_min <= pace.shift_min + 1e-9) | (first == last)
        number = np.where(fits, shifts[: last + 1] + 1, np.inf)
        length = np.where(fits, metres[: last + 1] + own_m, np.inf)
        k = int(np.lexsort((length, number))[0])
        shifts[last + 1], metres[last + 1], begun[last + 1] = number[k], length[k], k
    parts, end = [], count
    while end:
        parts.append(tour[begun[end] : end])
        end = int(begun[end])
    return parts[::-1]


def shortest_shifts(pace: Pace, weight: Reals) -> list[Wholes]:
    """The shortest round in shifts, the shift that finds most by the hour first.

    `weight` (n): the flow expected on each piece. Of rounds of one length a shift has one that
    passes the leak soon.
    """
    mended = cut_best(pace, shortest_round(pace.steps))
    mended = [_the_better_way(pace, weight, shift) for shift in mended]
    finds = [float(weight[shift >> 1].sum()) / max(pace.takes_min(shift), 1e-9) for shift in mended]
    return [mended[k] for k in np.argsort(-np.array(finds), kind="stable")]


def cut_best(pace: Pace, tour: Wholes) -> list[Wholes]:
    """The best of cuts of the tour, begun at any of its pieces, once pieces were moved between the
    shifts and each shift was made the shortest round of its own; the tour where it fits into one
    shift."""
    whole = cut_into_shifts(pace, tour)
    if len(whole) < 2:
        return whole
    begins = np.unique(np.linspace(0, len(tour) - 1, _BEGINS).round().astype(int))
    cuts = [whole, *(cut_into_shifts(pace, np.roll(tour, -k)) for k in begins[begins > 0])]
    cuts.sort(key=lambda cut: _worth(pace, cut))
    moved = [
        moved_between(pace.steps, cut, pace.takes_min, pace.shift_min) for cut in cuts[:_MENDED]
    ]
    best = min(moved, key=lambda cut: _worth(pace, cut))
    return [_mended(pace, shift) for shift in best]


def _worth(pace: Pace, shifts: list[Wholes]) -> tuple[int, float]:
    return len(shifts), round(sum(walked_m(pace.steps, shift) for shift in shifts), 6)


def _mended(pace: Pace, shift: Wholes) -> Wholes:
    """The shortest round of one shift's pieces, where that is shorter than its part of the whole
    round."""
    pieces = np.sort(shift >> 1)
    tokens = np.append(np.column_stack([2 * pieces, 2 * pieces + 1]).ravel(), pace.steps.home)
    own = Steps(pace.steps.cost_m[np.ix_(tokens, tokens)])
    again = tokens[shortest_round(own)]
    shorter = walked_m(pace.steps, again) < walked_m(pace.steps, shift) - 1e-6
    return again if shorter else shift


def _the_better_way(pace: Pace, weight: Reals, shift: Wholes) -> Wholes:
    """Of rounds as long as this one that are it with a run turned, one that passes the leak
    sooner, again and again until none does."""
    step_min = pace.step_min
    best, takes = shift, expected_min(step_min, pace.piece_min, weight, shift)
    for _ in range(_TURNS):
        trials = [best[::-1] ^ 1, *_as_long(pace, best)]
        found = [expected_min(step_min, pace.piece_min, weight, t) for t in trials]
        k = int(np.argmin(found))
        if found[k] > takes - _GAIN_MIN:
            break
        best, takes = trials[k], found[k]
    return best


def _as_long(pace: Pace, tour: Wholes) -> list[Wholes]:
    """The tour with one run turned, wherever that makes it no longer."""
    cost, home = pace.steps.cost_m, pace.steps.home
    before, after = np.append(home, tour[:-1]), np.append(tour[1:], home)
    turned = cost[before[:, None], tour ^ 1] + cost[(tour ^ 1)[:, None], after]
    longer = turned - cost[before, tour][:, None] - cost[tour, after]
    first, last = np.nonzero(np.triu(longer <= _SAME_M))
    return [
        np.concatenate([tour[:i], tour[i : j + 1][::-1] ^ 1, tour[j + 1 :]])
        for i, j in zip(first.tolist(), last.tolist(), strict=True)
        if (i, j) != (0, len(tour) - 1)
    ][:_TRIALS]


def in_shifts_as_they_come(pace: Pace, tour: Wholes) -> list[Wholes]:
    """The tour cut in its order, each shift as full as it gets."""
    parts: list[Wholes] = []
    first = 0
    for last in range(1, len(tour) + 1):
        if last == len(tour) or pace.takes_min(tour[first : last + 1]) > pace.shift_min + 1e-9:
            parts.append(tour[first:last])
            first = last
    return parts


def found_h(pace: Pace, weight: Reals, shifts: list[Wholes]) -> float:
    """Expected hours of work until the leak is passed, if it is on one of the pieces; the way back
    at the end of each shift counts."""
    began, found, likely = 0.0, 0.0, 0.0
    even = float(sum(weight[shift >> 1].sum() for shift in shifts)) <= 0
    for shift in shifts:
        own = np.ones(len(shift)) if even else weight[shift >> 1]
        found += float(own @ (began + passed_min(pace.step_min, pace.piece_min, shift)))
        likely += float(own.sum())
        began += pace.takes_min(shift)
    return found / max(likely, 1e-300) / 60
