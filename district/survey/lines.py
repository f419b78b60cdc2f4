"""A stretch as one line of parts: where along it is where on the network."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.ops import substring

from district.hydraulics.model import Reals, Wholes
from district.network import Network
from district.network.ways import pipes_in_order
from district.words import natural_key

_SAME_M = 1e-6
_KNOTS = (0.0, 0.025, 0.5, 0.975, 1.0)


@dataclass(frozen=True, eq=False)
class Line:
    """A stretch, or a run of it, as K parts one after another from its start.

    part (K)
        position of each in order of pipe_id.
    node (K + 1)
        positions of the nodes before, between and after them.
    shape, material (K)
        as drawn, and what they are made of.
    ends_m (K + 1)
        how far along the stretch these are, by laid length.
    along_m, held_share (J)
        how much of the probability of the stretch's zone lies before so many metres of it.
    """

    stretch_id: str
    cell_id: str
    part: Wholes
    node: Wholes
    shape: Any
    material: Any
    ends_m: Reals
    along_m: Reals
    held_share: Reals

    def place(self, at_m: float) -> tuple[int, float]:
        """The part that is there, and the share of its length before it."""
        before = int(np.searchsorted(self.ends_m, at_m, side="right")) - 1
        k = min(max(before, 0), len(self.part) - 1)
        length = float(self.ends_m[k + 1] - self.ends_m[k])
        share = (at_m - self.ends_m[k]) / max(length, 1e-9)
        return int(self.part[k]), round(float(np.clip(share, 0, 1)), 9)

    def point(self, at_m: float) -> Any:
        """The point of the map that is there."""
        part, share = self.place(at_m)
        shape = self.shape[int(np.flatnonzero(self.part == part)[0])]
        return shapely.line_interpolate_point(shape, share, normalized=True)

    def held(self, from_m: float, to_m: float) -> float:
        """Probability between two places along it."""
        low, high = np.interp([from_m, to_m], self.along_m, self.held_share)
        return float(high - low)


def lines_of(
    network: Network, likelihood: pd.DataFrame, stretch_ids: Collection[str]
) -> list[Line]:
    """The wanted stretches as lines, in order of their names.

    Parameters: `likelihood` table LIKELIHOOD. A stretch whose parts do not follow each other, as
    of a pipe that leaves its zone and comes back, gives a line for each run of them; all count
    their metres from the stretch's start. Within a part the probability lies as the quantiles of
    the table tell it.
    """
    pipes = pipes_in_order(network)
    place = pd.Series(np.arange(len(pipes)), index=pipes.index)
    shape, material = pipes.geometry.to_numpy(), pipes["material"].to_numpy(dtype=str)
    nodes = pipes[["start_position", "end_position"]].to_numpy(dtype=np.int64)
    wanted = likelihood[likelihood["stretch_id"].isin(set(stretch_ids))]
    lines: list[Line] = []
    for name, rows in sorted(wanted.groupby("stretch_id"), key=lambda g: natural_key(str(g[0]))):
        order = sorted(range(len(rows)), key=lambda n: natural_key(str(rows["pipe_id"].iloc[n])))
        rows = rows.iloc[order]
        part = place.loc[rows["pipe_id"]].to_numpy(dtype=np.int64)
        ends = np.append(0.0, np.cumsum(rows["length_m"].to_numpy(dtype=float)))
        breaks = np.flatnonzero(nodes[part[1:], 0] != nodes[part[:-1], 1]) + 1
        for run in np.split(np.arange(len(part)), breaks):
            along, held = _held(rows.iloc[run], ends[run[0]])
            lines.append(
                Line(
                    stretch_id=str(name),
                    cell_id=str(rows["cell_id"].iloc[0]),
                    part=part[run],
                    node=np.append(nodes[part[run], 0], nodes[part[run[-1]], 1]),
                    shape=shape[part[run]],
                    material=material[part[run]],
                    ends_m=ends[run[0] : run[-1] + 2],
                    along_m=along,
                    held_share=held,
                )
            )
    return lines


def _held(rows: pd.DataFrame, begin_m: float) -> tuple[Reals, Reals]:
    along, held = [begin_m], [0.0]
    for row in rows.itertuples():
        length, share = float(row.length_m), float(row.probability_share)
        told = np.array([row.along_m_low, row.along_m, row.along_m_high], dtype=float)
        inner = np.where(np.isfinite(told), told, np.array(_KNOTS[1:-1]) * length)
        inner = np.maximum.accumulate(inner.clip(0.0, length))
        along += [along[-1] + float(m) for m in (*inner, length)]
        held += [held[-1] + share * knot for knot in _KNOTS[1:]]
    return np.array(along), np.array(held)


def drawn(line: Line, from_m: float, to_m: float) -> Any:
    """The line on the map between two places along it, from the first to the second."""
    low, high = min(from_m, to_m), max(from_m, to_m)
    corners: list[Any] = []
    for k, shape in enumerate(line.shape):
        begin, end = float(line.ends_m[k]), float(line.ends_m[k + 1])
        if end < low or begin > high:
            continue
        length = max(end - begin, 1e-9)
        ends = max(low - begin, 0) / length, min(high - begin, length) / length
        cut = substring(shape, *ends, normalized=True)
        corners += list(cut.coords)
    return chained(corners if from_m <= to_m else corners[::-1])


def chained(corners: Any) -> Any:
    """Corners as one line, none of them twice running; a single one as a line of no length."""
    path = np.array([xy[:2] for xy in corners], dtype=float)
    path = path[np.append(True, np.abs(np.diff(path, axis=0)).sum(axis=1) > _SAME_M)]
    return shapely.linestrings(path if len(path) > 1 else np.repeat(path[:1], 2, axis=0))
