"""The rounds of one start: laid on the ground, ordered three ways, cut into shifts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from district.hydraulics.model import Flags, Reals, Wholes
from district.survey.ground import Ground, about, apart, with_links, with_places, with_points
from district.survey.lines import drawn
from district.survey.pieces import Piece, cut_to_fit
from district.survey.round import steps_between, walked_m
from district.survey.shifts import (
    Pace,
    cut_into_shifts,
    found_h,
    in_shifts_as_they_come,
    shortest_shifts,
)
from district.survey.soonest import soonest_round
from district.survey.starts import Start


@dataclass(frozen=True, eq=False)
class Laid:
    """n pieces on the ground: nodes of their ends (2 i the start, 2 i + 1 the end of a piece) and,
    last, of where the round begins; metres between these; where that is a straight line."""

    ground: Ground
    nodes: Wholes
    apart_m: Reals
    straight: Flags
    off_m: float = 0.0
    """How far the ends of the pieces are from what is walked along, at most."""


@dataclass(frozen=True, eq=False)
class Round:
    """One start's pieces in shifts: tokens of pieces and directions (2 i forwards, 2 i + 1 back).

    shortest, soonest, by_density
        the shifts of each order.
    """

    start: Start
    pieces: tuple[Piece, ...]
    laid: Laid
    pace: Pace
    weight: Reals
    shortest: list[Wholes]
    soonest: list[Wholes]
    by_density: list[Wholes]

    def walked_m(self, shifts: Sequence[Wholes]) -> float:
        """Metres to, between and back from the pieces."""
        return sum(walked_m(self.pace.steps, shift) for shift in shifts)

    def work_h(self, shifts: Sequence[Wholes]) -> float:
        """Hours of all shifts."""
        return sum(self.pace.takes_min(shift) for shift in shifts) / 60

    def found_h(self, shifts: list[Wholes]) -> float:
        """Expected hours until the leak is passed."""
        return found_h(self.pace, self.weight, shifts)


def lay(ground: Ground, pieces: Sequence[Piece], start: Start) -> Laid:
    """The ends of the pieces on the ground, and where the round begins."""
    off_m = 0.0
    ends = [p.line.place(m) for p in pieces for m in (p.from_m, p.to_m)]
    part = np.array([e[0] for e in ends], dtype=np.int64)
    share = np.array([e[1] for e in ends])
    if ground.by == "pipes":
        ground, nodes = with_places(ground, part, share)
    else:
        lines = [drawn(p.line, p.from_m, p.to_m) for p in pieces]
        xy = np.array([c for line in lines for c in (line.coords[0], line.coords[-1])])
        points = shapely.points(xy)
        nearest = ground.line[shapely.STRtree(ground.line).nearest(points)]
        off_m = float(shapely.distance(points, nearest).max(initial=0.0))
        ground, nodes = with_points(ground, xy[:, 0], xy[:, 1])
        ground = with_links(ground, nodes[::2], nodes[1::2], lines)
    if start.piece < 0:
        ground, home = with_points(ground, np.array([start.x_m]), np.array([start.y_m]))
    else:
        home = nodes[[2 * start.piece + start.at_end]]
    nodes = np.append(nodes, home)
    near = about(ground, nodes)
    metres, straight = apart(near, nodes)
    if not straight.any():
        return Laid(near, nodes, metres, straight, off_m)
    return Laid(ground, nodes, *apart(ground, nodes), off_m)


def round_of(
    ground: Ground,
    pieces: Sequence[Piece],
    start: Start,
    *,
    flow_l_s: Callable[[Piece], float],
    piece_min: Callable[[Piece], float],
    m_min: float,
    shift_min: float,
) -> Round:
    """The round of a start over its pieces (those it names, of `pieces`).

    `flow_l_s` the flow expected on a piece, `piece_min` the minutes it takes. A piece that with the
    way there and back is longer than a shift is halved until it fits.
    """
    own = [pieces[n] for n in start.pieces]
    home = replace(start, piece=start.pieces.index(start.piece)) if start.piece >= 0 else start
    laid = lay(ground, own, home)
    if any(piece_min(p) + _there_min(laid, k, m_min) > shift_min for k, p in enumerate(own)):
        own, home = _to_fit(own, home, laid, piece_min, m_min, shift_min)
        laid = lay(ground, own, home)
    weight = np.array([flow_l_s(p) for p in own])
    length = np.array([p.length_m for p in own])
    pace = Pace(
        steps_between(laid.apart_m), m_min, np.array([piece_min(p) for p in own]), shift_min
    )
    shortest = shortest_shifts(pace, weight)
    whole: Any = np.concatenate(shortest) if shortest else np.empty(0, dtype=np.int64)
    dense = 2 * np.lexsort((np.arange(len(own)), -weight / np.maximum(length, 1e-9)))
    by_density = _nearer_ends(pace, dense)
    soonest = soonest_round(pace.step_min, pace.piece_min, weight, whole, by_density)
    in_time = [in_shifts_as_they_come(pace, soonest), cut_into_shifts(pace, soonest), shortest]
    return Round(
        start=start,
        pieces=tuple(own),
        laid=laid,
        pace=pace,
        weight=weight,
        shortest=shortest,
        # The way back at a shift's end may make the shortest round the soonest, too.
        soonest=min(in_time, key=lambda shifts: round(found_h(pace, weight, shifts), 9)),
        by_density=in_shifts_as_they_come(pace, by_density),
    )


def _there_min(laid: Laid, piece: int, m_min: float) -> float:
    return float(laid.apart_m[-1, [2 * piece, 2 * piece + 1]].sum()) / m_min


def _to_fit(
    own: Sequence[Piece],
    home: Start,
    laid: Laid,
    piece_min: Callable[[Piece], float],
    m_min: float,
    shift_min: float,
) -> tuple[list[Piece], Start]:
    """The pieces halved where they must be; the start stays at the same end of the same place."""
    found: list[Piece] = []
    number = home.piece
    for k, piece in enumerate(own):
        there = _there_min(laid, k, m_min)
        halves = cut_to_fit([piece], lambda p, t=there: piece_min(p) + t <= shift_min)  # type: ignore[misc]
        if k == home.piece:
            number = len(found) + (len(halves) - 1 if home.at_end else 0)
        found += halves
    return found, replace(home, piece=number)


def _nearer_ends(pace: Pace, forwards: Wholes) -> Wholes:
    """The pieces in the given order, each begun at the end that is nearer."""
    at, tour = pace.steps.home, []
    for token in forwards.tolist():
        there, turned = pace.steps.cost_m[at, [token, token ^ 1]]
        at = token if there <= turned else token ^ 1
        tour.append(at)
    return np.array(tour, dtype=np.int64)
