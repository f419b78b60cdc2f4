"""Where one more valve parts a segment in two, and what each place for it would spare."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Flags, Reals, Wholes


@dataclass(frozen=True, eq=False)
class Inside:
    """One segment from within: n nodes, p pipes, t ties; k outer areas that hang on it alone.

    start, end (p)
        nodes at the ends of each pipe; links that are no pipe (a check valve) have no length.
    fits (p)
        whether a valve can be fitted on it.
    length_m (p), own (p)
        of each pipe, and what is lost with it (properties).
    tie_node (t), tie_area (t)
        node of each open gate or source, and the area behind it: -1 where water comes from there
        without this segment.
    area_own (k)
        what is lost with each area.
    """

    nodes_count: int
    start: Wholes
    end: Wholes
    fits: Flags
    length_m: Reals
    own: Reals
    tie_node: Wholes
    tie_area: Wholes
    area_own: Reals


@dataclass(frozen=True)
class Split:
    """The best place: a valve on `pipe` at its start or end, and the sum by metre of what is lost
    for a break on each of its sides (`spared` less than before)."""

    pipe: int
    at_start: bool
    spared: float
    one_side_m: float
    other_side_m: float


def best_split(inside: Inside) -> Split | None:
    """The place that spares most, of all ends of pipes that part the segment in two.

    What is spared is the sum, over both sides, of length times what a break there no longer takes:
    the other side, where it is fed past this one, and areas that hang on the other side. None
    where nothing is spared. The last place of a bridge in the walk is on one side or the other of
    its pipe: both are looked at.
    """
    begin, size, bridge, lower = _bridges(inside)
    if not len(bridge):
        return None
    count = inside.nodes_count
    place = np.argsort(begin, kind="stable")
    at = begin[inside.start]
    # A pipe lies where its later end does: so the pipe of a bridge is counted below it.
    at = np.maximum(at, begin[inside.end])
    lengths = _before(at, inside.length_m, count)
    owns = _before(at, inside.own, count)
    fed = _before(begin[inside.tie_node], (inside.tie_area < 0).astype(float), count)
    low = begin[lower]
    high = low + size[place[low]]
    below_m, below_own, below_fed = (s[high] - s[low] for s in (lengths, owns, fed))
    hang_below, hang_above = _hanging_areas(inside, begin, low, high)
    total_m, total_own, total_fed = lengths[-1], owns[-1], fed[-1]
    best: Split | None = None
    for pipe_below in (True, False):
        shift = 0.0 if pipe_below else 1.0
        one_m = below_m - shift * inside.length_m[bridge]
        one_own = below_own - shift * inside.own[bridge]
        # A break on one side spares the other, and what hangs on that, if water comes there.
        above_spared = np.where(total_fed > below_fed, total_own - one_own + hang_above, 0.0)
        below_spared = np.where(below_fed > 0, one_own + hang_below, 0.0)
        spared = one_m * above_spared + (total_m - one_m) * below_spared
        spared = np.where((one_m > 0) & (one_m < total_m), spared, 0.0)
        top = int(np.argmax(spared))
        if spared[top] > (best.spared if best else 0.0):
            pipe = int(bridge[top])
            lower_is_start = inside.start[pipe] == lower[top]
            inner_m, outer_m = float(one_m[top]), float(total_m - one_m[top])
            best = Split(
                pipe=pipe,
                # With the pipe below, the valve is at its upper end.
                at_start=bool(lower_is_start != pipe_below),
                spared=float(spared[top]),
                one_side_m=inner_m if pipe_below else outer_m,
                other_side_m=outer_m if pipe_below else inner_m,
            )
    return best


def _before(at: Wholes, what: Reals, count: int) -> Reals:
    """Sums of `what` over places before each, 0 to `count`."""
    return np.concatenate([[0.0], np.cumsum(np.bincount(at, weights=what, minlength=count))])


def _hanging_areas(inside: Inside, begin: Wholes, low: Wholes, high: Wholes) -> tuple[Reals, Reals]:
    """What is lost with the areas tied to places low to high - 1, and with those tied to others."""
    below, above = np.zeros(len(low)), np.zeros(len(low))
    real = np.flatnonzero(inside.tie_area >= 0)
    order = real[np.lexsort([begin[inside.tie_node[real]], inside.tie_area[real]])]
    area, at = inside.tie_area[order], begin[inside.tie_node[order]]
    first = np.searchsorted(area, np.arange(len(inside.area_own) + 1))
    for k, own in enumerate(inside.area_own):
        ties = at[first[k] : first[k + 1]]
        held = np.searchsorted(ties, high) - np.searchsorted(ties, low)
        below += np.where(held > 0, own, 0.0)
        above += np.where(held < len(ties), own, 0.0)
    return below, above


def _bridges(inside: Inside) -> tuple[Wholes, Wholes, Wholes, Wholes]:
    """Place of each node in a depth-first walk, size of its branch, the pipes without which the
    segment falls apart and on which a valve can be fitted, and the lower node of each."""
    count, pipes = inside.nodes_count, len(inside.start)
    rows = np.concatenate([inside.start, inside.end])
    order = np.argsort(rows, kind="stable")
    begins = np.searchsorted(rows[order], np.arange(count + 1)).tolist()
    other = np.concatenate([inside.end, inside.start])[order].tolist()
    pipe = np.concatenate([np.arange(pipes), np.arange(pipes)])[order].tolist()
    place, low, size = [-1] * count, [0] * count, [1] * count
    upto, by = begins[:-1], [-1] * count
    place[0], walked, path = 0, 1, [0]
    found: list[tuple[int, int]] = []
    while path:
        at = path[-1]
        if upto[at] < begins[at + 1]:
            slot = upto[at]
            upto[at] += 1
            if pipe[slot] == by[at]:
                continue
            following = other[slot]
            if place[following] >= 0:
                low[at] = min(low[at], place[following])
                continue
            place[following] = low[following] = walked
            walked += 1
            by[following] = pipe[slot]
            path.append(following)
            continue
        path.pop()
        if path:
            above = path[-1]
            size[above] += size[at]
            low[above] = min(low[above], low[at])
            if low[at] == place[at] and inside.fits[by[at]]:
                found.append((by[at], at))
    table = np.array(found, dtype=np.int64).reshape(-1, 2)
    return np.array(place), np.array(size), table[:, 0], table[:, 1]
