"""The shortest set of stretches that holds a wanted probability, and how short it could be."""

from __future__ import annotations

import numpy as np

from district.break_rates import Reals

_CLOSE = 1e-12
_BACK = 40


def shortest_set(
    probability: Reals, length_m: Reals, *, hold_share: float
) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], float]:
    """Stretches holding at least `hold_share` over as little length as found, and the gap in m.

    Parameters: `probability` (sums to 1) and `length_m`, both shape (stretches,). Stretches are
    taken by probability a metre until they hold enough; near the end every exchange of the tail
    for one shorter stretch is tried, and what is not needed is dropped. The gap is the set's
    length less the bound of the linear relaxation (the greedy set with its last stretch cut to
    fit; Dantzig 1957, Oper Res 5, from memory): no set can be shorter by more.
    """
    density = probability / np.maximum(length_m, 1e-9)
    order = np.lexsort((np.arange(len(density)), -density))
    p, m = probability[order], length_m[order]
    held, walked = np.cumsum(p), np.cumsum(m)
    wanted = hold_share - _CLOSE
    need = int(np.searchsorted(held, wanted))
    if need >= len(p):
        return np.ones(len(p), dtype=bool), 0.0
    before_p = held[need] - p[need]
    bound = walked[need] - m[need] + m[need] * max(0.0, (wanted - before_p) / max(p[need], 1e-300))

    best = np.arange(len(p)) <= need
    best = _thinned(best, p, m, wanted)
    shortest = float(m[best].sum())
    for kept in range(max(0, need - _BACK), need + 1):
        missing = wanted - (held[kept - 1] if kept else 0.0)
        fits = np.flatnonzero(p[kept:] >= missing) + kept
        if not len(fits):
            continue
        last = int(fits[np.argmin(m[fits])])
        trial = np.arange(len(p)) < kept
        trial[last] = True
        trial = _thinned(trial, p, m, wanted)
        length = float(m[trial].sum())
        if length < shortest - 1e-9:
            best, shortest = trial, length
    chosen = np.zeros(len(p), dtype=bool)
    chosen[order] = best
    return chosen, max(0.0, shortest - float(bound))


def _thinned(
    chosen: np.ndarray[tuple[int], np.dtype[np.bool_]], p: Reals, m: Reals, wanted: float
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Without the stretches it can spare, the longest first."""
    spare = float(p[chosen].sum()) - wanted
    kept = chosen.copy()
    droppable = np.flatnonzero(chosen & (p <= spare))
    for i in droppable[np.argsort(-m[droppable], kind="stable")]:
        if p[i] <= spare:
            kept[i] = False
            spare -= float(p[i])
    return kept
