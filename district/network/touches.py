"""Where a line comes back to itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

Floats = npt.NDArray[np.float64]


def own_tees(lines: Any, *, tolerance_m: float) -> list[tuple[int, float, int]]:
    """Where an end of a line meets the inside of the same line: (line, chainage, which end).

    Ends are numbered as by `snap.tees`. The line must have left the end by more than the
    tolerance before it comes back, so that the stretch beside the end does not count. A ring,
    which only closes at its ends, is none; nor is a line that merely crosses itself.
    """
    many = np.flatnonzero(shapely.get_num_coordinates(lines) >= 4)
    if not len(many):
        return []
    points, owner = shapely.get_coordinates(lines[many], return_index=True)
    found = _returns(points, owner, tolerance_m)
    length_m = shapely.length(lines[many])
    # The same from the other end: the line read backwards.
    last = len(many) - 1
    back = _returns(points[::-1], last - owner[::-1], tolerance_m)
    tees = [(line, along, 0) for line, along in found]
    tees += [(last - line, float(length_m[last - line]) - along, 1) for line, along in back]
    return sorted(
        (int(many[line]), along, 2 * int(many[line]) + side)
        for line, along, side in tees
        if tolerance_m < along < length_m[line] - tolerance_m
    )


def _returns(
    points: Floats, owner: npt.NDArray[np.intp], tolerance_m: float
) -> list[tuple[int, float]]:
    """Line and chainage of the nearest place where each line comes back to its first point."""
    first = np.searchsorted(owner, np.arange(owner[-1] + 1))
    away = np.hypot(*(points - points[first[owner]]).T) > tolerance_m
    # Distance to a point is largest at a corner, so corners show whether the line has left.
    left = np.cumsum(away) - np.cumsum(away)[first[owner]]
    leg = np.flatnonzero((owner[:-1] == owner[1:]) & (left[:-1] > 0))
    start, step = points[leg], points[leg + 1] - points[leg]
    square = np.maximum((step**2).sum(axis=1), np.finfo(float).tiny)
    to_end = points[first[owner[leg]]] - start
    share = np.clip((to_end * step).sum(axis=1) / square, 0.0, 1.0)
    gap_m = np.hypot(*(to_end - share[:, None] * step).T)
    near = gap_m <= tolerance_m
    chain = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    along = chain[leg] - chain[first[owner[leg]]] + share * np.sqrt(square)
    line, along, gap_m = owner[leg][near], along[near], gap_m[near]
    order = np.lexsort([along, gap_m, line])
    line, along = line[order], along[order]
    once = np.concatenate([[True], line[1:] != line[:-1]]) if len(line) else np.zeros(0, bool)
    return [(int(a), float(b)) for a, b in zip(line[once], along[once], strict=True)]
