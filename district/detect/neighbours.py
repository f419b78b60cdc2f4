"""Which zones share a meter or a valve, and changes in them that cancel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from district.detect.change import Change
from district.network import Network

NEAR_NIGHTS = 3
"""Opposite changes this many nights apart may be one."""
_TOUCH_M = 5.0  # outlines are drawn by hand
_ALIKE = 0.25  # sizes may differ by this share beside their errors


def between(network: Network) -> dict[frozenset[str], str]:
    """Pairs of cells that touch, and what lies between them in words.

    A zone meter ('meter M4'), else a shut valve ('valve V12'), else, where only the outlines of
    the zones touch, 'a valve or pipe the map does not show'.
    """
    touching: dict[frozenset[str], str] = {}
    for kind, cut, cells in _cuts(network):
        for pair in combinations(sorted(cells), 2):
            touching.setdefault(frozenset(pair), f"{kind} {cut}")
    zones = network.zones[network.zones.index.isin(network.cells.index)]
    if len(zones) > 1:
        near, far = zones.geometry.sindex.query(zones.geometry, "dwithin", distance=_TOUCH_M)
        for one, other in zip(near, far, strict=True):
            if one < other:
                two = frozenset({str(zones.index[one]), str(zones.index[other])})
                touching.setdefault(two, "a valve or pipe the map does not show")
    return touching


def cells_at(network: Network) -> dict[str, frozenset[str]]:
    """Cells that each meter or valve which separates cells touches, by its id."""
    return {cut: cells for _, cut, cells in _cuts(network)}


def _cuts(network: Network) -> list[tuple[str, str, frozenset[str]]]:
    found = []
    for row in network.boundaries.itertuples():
        cells = frozenset({row.upstream_cell_id, row.downstream_cell_id} - {""})
        found.append(("meter", str(row.meter_id), cells))
    named = network.nodes["cut"].to_numpy()
    ends = pd.concat(
        [
            pd.DataFrame({"at": network.pipes[end].to_numpy(), "cell": network.pipes["cell_id"]})
            for end in ("start_position", "end_position")
        ]
    )
    ends["cut"] = named[ends["at"].to_numpy(dtype=int)] if len(ends) else []
    ends = ends[(ends["cut"] != "") & (ends["cell"] != "")]
    meters = set(network.boundaries["meter_id"])
    for cut, cells in ends.groupby("cut")["cell"]:
        kind = "meter" if cut in meters or cut in network.meters.index else "valve"
        found.append((kind, str(cut), frozenset(cells)))
    return found


def cancels(rise: Change, fall: Change) -> bool:
    """Whether a rise and a fall in two zones are of like size and date."""
    close = abs(rise.position - fall.position) <= NEAR_NIGHTS
    overlap = rise.low <= fall.high and fall.low <= rise.high
    error = 1.96 * float(np.hypot(rise.error_l_s, fall.error_l_s))
    like = max(_ALIKE * max(rise.size_l_s, -fall.size_l_s), error)
    # Errors as large as the changes themselves prove nothing.
    clear = error < 0.6 * max(rise.size_l_s, -fall.size_l_s)
    return (close or overlap) and clear and abs(rise.size_l_s + fall.size_l_s) <= like


def partners(
    found: Mapping[str, Sequence[Change]], touching: Mapping[frozenset[str], str]
) -> dict[tuple[str, int], tuple[str, Change]]:
    """Rises that a fall in a touching cell cancels: (cell, position) -> (other cell, its fall).

    Positions must count from one common night. Each fall answers for one rise at most, the
    best-matching first.
    """
    candidates = [
        (abs(rise.size_l_s + fall.size_l_s), cell, rise, other, fall)
        for pair in touching
        for cell, other in (sorted(pair), sorted(pair, reverse=True))
        for rise in found.get(cell, ())
        if rise.size_l_s > 0
        for fall in found.get(other, ())
        if fall.size_l_s < 0 and cancels(rise, fall)
    ]
    taken: set[tuple[str, int]] = set()
    done: dict[tuple[str, int], tuple[str, Change]] = {}
    for _, cell, rise, other, fall in sorted(candidates, key=lambda c: (c[0], c[1], c[3])):
        if (cell, rise.position) in done or (other, fall.position) in taken:
            continue
        taken.add((other, fall.position))
        done[cell, rise.position] = (other, fall)
    return done


def going_back(cancelled: Mapping[tuple[str, int], tuple[str, Change]]) -> set[tuple[str, int]]:
    """Rises that only undo an earlier fall which answered for the other zone's rise."""
    undone = set()
    for (cell, position), (other, fall) in cancelled.items():
        for (first_cell, begun), (second, drop) in cancelled.items():
            same_two = first_cell == other and second == cell
            if same_two and begun < fall.position and drop.position < position:
                undone.add((cell, position))
    return undone
