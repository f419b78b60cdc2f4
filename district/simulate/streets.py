"""Draw the streets: bent grids with missing blocks and dead ends, the trunk, links between zones.

Coordinates are metres east and north of the scenario's origin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from district.simulate.scenario import GRIDS, LINKS, TRUNK_LEGS, Grid, Link

Points = NDArray[np.float64]
REMOVED_SHARE = 0.16
"""Of a quarter's streets: a full grid has more loops than a grown one."""


@dataclass(frozen=True, eq=False)
class Stretch:
    """One pipe: line from `start` to `end` (node names), the street it belongs to, its part.

    `part` is 'street', 'spine' (wider street), 'trunk', 'stub' (reservoir to its meter) or 'link'.
    """

    zone_id: str
    start: str
    end: str
    line: Points
    street: str
    part: str
    link: Link | None = None

    def length_m(self) -> float:
        """Length of the line."""
        return float(np.hypot(*np.diff(self.line, axis=0).T).sum())


def draw_streets(rng: np.random.Generator) -> list[Stretch]:
    """All pipes of the district, in a stable order: trunk, quarters, links."""
    corners: dict[tuple[str, tuple[str | int, int]], Points] = {}
    stretches = _trunk(corners)
    for grid in GRIDS:
        stretches += _quarter(grid, corners, rng)
    split = [part for stretch in stretches for part in _split(stretch, rng)]
    return split + [
        Stretch(
            link.from_zone,
            _name(corners[link.from_zone, link.start]),
            _name(corners[link.to_zone, link.end]),
            _line(corners[link.from_zone, link.start], corners[link.to_zone, link.end]),
            f"link {link.device_id}",
            "link",
            link,
        )
        for link in LINKS
    ]


def bend(points: Points) -> Points:
    """The plane gently warped, so that no street is ruler-straight and none meet anew."""
    east, north = points[:, 0], points[:, 1]
    return np.column_stack(
        (
            east + 16 * np.sin(north / 140) + 5 * np.sin(north / 47 + 1),
            north + 16 * np.sin(east / 170 + 0.6) + 5 * np.sin(east / 52),
        )
    )


def _line(start: Points, end: Points) -> Points:
    steps = max(2, int(np.ceil(np.hypot(*(end - start)) / 14)))
    share = np.linspace(0, 1, steps + 1)[:, None]
    return bend(start + share * (end - start))


def _name(corner: Points) -> str:
    return f"{corner[0]:.2f} {corner[1]:.2f}"


def _trunk(corners: dict[tuple[str, tuple[str | int, int]], Points]) -> list[Stretch]:
    stretches = []
    for leg, said in TRUNK_LEGS:
        ends = [np.array(corner, dtype=float) for corner in said]
        for number, corner in enumerate(ends):
            corners["T", (leg, number)] = corner
        for number, (a, b) in enumerate(pairwise(ends)):
            part = "stub" if (leg, number) == ("main", 0) else "trunk"
            pieces = 1 if part == "stub" else max(1, round(float(np.hypot(*(b - a))) / 110))
            stops = [a + (b - a) * i / pieces for i in range(pieces + 1)]
            stretches += [
                Stretch("T", _name(p), _name(q), _line(p, q), f"trunk {leg}", part)
                for p, q in pairwise(stops)
            ]
    return stretches


def _quarter(
    grid: Grid,
    corners: dict[tuple[str, tuple[str | int, int]], Points],
    rng: np.random.Generator,
) -> list[Stretch]:
    turn = np.radians(grid.angle_degrees)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    where: dict[tuple[int, int], Points] = {}
    zone: dict[tuple[int, int], str] = {}
    for i in range(grid.columns):
        for j in range(grid.rows):
            flat = np.array([i * grid.across_m, j * grid.up_m]) + rng.uniform(-8, 8, 2)
            where[i, j] = rotation @ flat + [grid.east_m, grid.north_m]
            zone[i, j] = next(
                (z for z, columns, rows in grid.nested if i in columns and j in rows),
                grid.zone_id,
            )
            corners[zone[i, j], (i, j)] = where[i, j]
    edges = [((i, j), (i + 1, j)) for i in range(grid.columns - 1) for j in range(grid.rows)]
    edges += [((i, j), (i, j + 1)) for i in range(grid.columns) for j in range(grid.rows - 1)]
    inside = [(a, b) for a, b in edges if zone[a] == zone[b]]
    removed = _thinned(inside, rng)
    stretches = []
    for a, b in inside:
        along = a[1] == b[1]
        middle = a[1] == grid.rows // 2 if along else a[0] == grid.columns // 2
        street = f"{zone[a]} {'row' if along else 'column'} {a[1] if along else a[0]}"
        end = where[b]
        if (a, b) in removed:
            if rng.random() > 0.45:
                continue
            end = where[a] + (where[b] - where[a]) * rng.uniform(0.35, 0.6)
        stretches.append(
            Stretch(
                zone[a],
                _name(where[a]),
                _name(end),
                _line(where[a], end),
                street,
                "spine" if middle else "street",
            )
        )
    return stretches


def _thinned(
    edges: list[tuple[tuple[int, int], tuple[int, int]]], rng: np.random.Generator
) -> set[object]:
    graph = nx.Graph(edges)
    pieces = nx.number_connected_components(graph)
    wanted = round(REMOVED_SHARE * len(edges))
    removed: set[object] = set()
    for number in rng.permutation(len(edges)):
        if len(removed) == wanted:
            break
        graph.remove_edge(*edges[number])
        if nx.number_connected_components(graph) > pieces:
            graph.add_edge(*edges[number])
        else:
            removed.add(edges[number])
    return removed


def _split(stretch: Stretch, rng: np.random.Generator) -> list[Stretch]:
    """A street drawn in one or two stretches, as surveyors happened to draw it."""
    if stretch.part not in ("street", "spine") or stretch.length_m() < 45 or rng.random() > 0.72:
        return [stretch]
    at = int(rng.integers(2, len(stretch.line) - 2)) if len(stretch.line) > 4 else 2
    middle = stretch.line[at]
    name = f"{_name(middle)} mid"
    return [
        replace(stretch, end=name, line=stretch.line[: at + 1]),
        replace(stretch, start=name, line=stretch.line[at:]),
    ]
