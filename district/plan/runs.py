"""Runs: the mains of a street in order along it, so that a site is some of them in a row."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pandas as pd
import shapely

from district.network import Network
from district.words import natural_key

Reals = np.ndarray[Any, np.dtype[np.float64]]
Wholes = np.ndarray[Any, np.dtype[np.int64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]
_LOOK_M = 5.0
"""The direction of a pipe at its end is that of its first metres."""


@dataclass(frozen=True, eq=False)
class Runs:
    """N mains, run by run, in order along each; runs by their first pipe.

    row (N)
        place of the main in the table the runs are of.
    run (N)
        number of its run, from 0.
    name (N)
        street, or the first pipe of the run where none is known.
    length_m (N)
        length.
    """

    row: Wholes
    run: Wholes
    name: tuple[str, ...]
    length_m: Reals


def runs_of(mains: pd.DataFrame, network: Network) -> Runs:
    """The runs of the mains: `pipe_id`, `street` and `length_m` of table PIPE_RATES.

    Mains of one street that meet at their ends follow each other; where more than two meet, those
    that go on straightest do, and the others are runs of their own. Where no street is known, runs
    end at every junction. A ring begins at its first pipe. A main that the network does not hold
    is a run of its own. Neither the order of rows nor that of the network's nodes counts.
    """
    order = natural_order(mains["pipe_id"])
    names = mains["pipe_id"].astype(str).to_numpy()[order]
    streets = mains["street"].fillna("").astype(str).str.strip().to_numpy()[order]
    lengths = np.nan_to_num(mains["length_m"].to_numpy(dtype=float)[order])
    next_to = _neighbours(names, streets, network)
    path, run = _traced(next_to)
    first = np.append(0, np.flatnonzero(np.diff(run)) + 1)[run] if len(run) else run
    called = np.where(streets[path] != "", streets[path], names[path[first]] if len(path) else "")
    return Runs(order[path], run, tuple(str(c) for c in called), lengths[path])


def natural_order(pipe_ids: pd.Series[Any]) -> Wholes:
    """Places of the ids as people sort them: P2 before P10."""
    texts = pipe_ids.astype(str).tolist()
    return np.array(sorted(range(len(texts)), key=lambda n: natural_key(texts[n])), dtype=np.int64)


def left_of(runs: Runs, left: Flags) -> Runs:
    """The runs where only some mains are left, shape (N): those on either side of the others are
    runs of their own."""
    kept = np.flatnonzero(left)
    breaks = (np.diff(kept) > 1) | (np.diff(runs.run[kept]) > 0)
    run = np.concatenate([[0], np.cumsum(breaks)])[: len(kept)].astype(np.int64)
    return Runs(runs.row[kept], run, tuple(runs.name[k] for k in kept), runs.length_m[kept])


def _neighbours(names: Any, streets: Any, network: Network) -> list[list[int]]:
    """The mains next to each, two at most."""
    ends = _ends(names, network)
    inside = ends["number"] >= 0
    meeting = np.bincount(ends["node"], minlength=len(network.nodes))
    ends = _open_ends(ends[inside])
    street = streets[ends["number"].to_numpy()]
    ends = ends.assign(street=street)[(street != "") | (meeting[ends["node"].to_numpy()] == 2)]
    ends = ends.sort_values(["street", "node", "number"], kind="stable")
    group = ends.groupby(["street", "node"], sort=False).ngroup().to_numpy()
    number = ends["number"].to_numpy()
    way = ends[["east", "north"]].to_numpy()
    next_to: list[list[int]] = [[] for _ in names]
    bounds = np.flatnonzero(np.diff(group, prepend=-1, append=-1))
    for low, high in pairwise(bounds):
        for one, other in _straightest(way[low:high], number[low:high]):
            next_to[one].append(other)
            next_to[other].append(one)
    return next_to


def _ends(names: Any, network: Network) -> pd.DataFrame:
    """Both ends of every part of a pipe: number of its main (-1 for others), node, direction."""
    parts = network.pipes
    number = pd.Index(names).get_indexer(parts["layer_pipe_id"].astype(str))
    lines = parts.geometry.to_numpy()
    look = np.minimum(_LOOK_M, shapely.length(lines) / 2)
    sides = []
    for column, ahead, at in (("start_position", look, 0), ("end_position", -look, -1)):
        here = shapely.get_coordinates(shapely.get_point(lines, at))
        there = shapely.get_coordinates(shapely.line_interpolate_point(lines, ahead))
        way = there - here
        size = np.hypot(*way.T)
        way = way / np.where(size > 0, size, 1.0)[:, None]
        node = parts[column].to_numpy(dtype=np.int64)
        east, north = way.T
        sides.append(pd.DataFrame({"number": number, "node": node, "east": east, "north": north}))
    return pd.concat(sides, ignore_index=True)


def _open_ends(ends: pd.DataFrame) -> pd.DataFrame:
    """The two ends of each whole main: where an odd number of its parts' ends meet, none of a
    ring."""
    ends = ends.sort_values(["number", "node", "east", "north"], kind="stable")
    again = ends.groupby(["number", "node"])["node"].transform("size")
    odd = ends[again.to_numpy() % 2 == 1].drop_duplicates(["number", "node"])
    return odd[odd.groupby("number")["node"].transform("size").to_numpy() == 2]


def _straightest(way: Reals, number: Wholes) -> list[tuple[int, int]]:
    """Who follows whom at a node: the pair that goes on straightest first, then by id."""
    if len(number) < 2:
        return []
    if len(number) == 2:
        return [(int(number[0]), int(number[1]))]
    turn = np.round(way @ way.T, 3)
    pairs = sorted(combinations(range(len(number)), 2), key=lambda p: (turn[p], p))
    taken: set[int] = set()
    found = []
    for one, other in pairs:
        if not taken & {one, other}:
            taken |= {one, other}
            found.append((int(number[one]), int(number[other])))
    return found


def _traced(next_to: list[list[int]]) -> tuple[Wholes, Wholes]:
    """The mains in order along their runs, and the number of the run of each."""
    done = [False] * len(next_to)
    path: list[int] = []
    run: list[int] = []
    runs: list[list[int]] = []
    tips = [n for n, near in enumerate(next_to) if len(near) < 2]
    # What has no tip is a ring: it begins at its first main, towards the first of its neighbours.
    for begin in (*tips, *range(len(next_to))):
        if done[begin]:
            continue
        at, found = begin, []
        while at >= 0:
            done[at] = True
            found.append(at)
            at = min((n for n in next_to[at] if not done[n]), default=-1)
        runs.append(found)
    for count, found in enumerate(sorted(runs, key=lambda r: r[0])):
        path += found
        run += [count] * len(found)
    return np.array(path, dtype=np.int64), np.array(run, dtype=np.int64)
