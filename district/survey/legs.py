"""The walk as legs: pieces of one stretch walked one after another are one leg again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Wholes
from district.survey.pieces import Piece
from district.survey.rounds import Round


@dataclass(frozen=True, eq=False)
class Shift:
    """One shift of a round: the tokens it walks in order, see `rounds.Round`."""

    round: Round
    tokens: Wholes

    @property
    def work_min(self) -> float:
        """Minutes it takes."""
        return self.round.pace.takes_min(self.tokens)

    @property
    def flow_l_s(self) -> float:
        """Flow expected on its pieces."""
        return float(self.round.weight[self.tokens >> 1].sum())


@dataclass(frozen=True, eq=False)
class Leg:
    """One piece of a stretch walked in one go.

    first, last
        nodes of the round's ground where it is begun and left.
    before
        node from which the crew comes.
    numbers
        of the pieces in `round.pieces` that it is made of, as they are walked.
    """

    shift: int
    round: Round
    piece: Piece
    backwards: bool
    before: int
    first: int
    last: int
    there_m: float
    straight: bool
    numbers: tuple[int, ...]
    since_start_min: float
    leg_min: float

    @property
    def flow_l_s(self) -> float:
        """Flow expected on it."""
        return float(self.round.weight[list(self.numbers)].sum())


def shifts_of(rounds: list[Round]) -> list[Shift]:
    """The shifts of the shortest rounds, the one that finds most by the hour first."""
    shifts = [Shift(each, tokens) for each in rounds for tokens in each.shortest]
    worth = [-s.flow_l_s / max(s.work_min, 1e-9) for s in shifts]
    return [shifts[k] for k in np.argsort(worth, kind="stable")]


def legs_of(shifts: list[Shift]) -> list[Leg]:
    """The legs of all shifts in order; shifts are numbered from 1."""
    return [leg for n, shift in enumerate(shifts) for leg in _of_shift(n + 1, shift)]


def _of_shift(number: int, shift: Shift) -> list[Leg]:
    pace, laid = shift.round.pace, shift.round.laid
    legs: list[Leg] = []
    at, clock = pace.steps.home, 0.0
    runs: list[list[int]] = []
    for token in shift.tokens.tolist():
        if runs and _goes_on(shift.round, runs[-1][-1], token):
            runs[-1].append(token)
        else:
            runs.append([token])
    for run in runs:
        there = float(pace.steps.cost_m[at, run[0]])
        takes = there / pace.m_min + float(pace.piece_min[[t >> 1 for t in run]].sum())
        clock += takes
        leave = at if at == pace.steps.home else at ^ 1
        pieces = [shift.round.pieces[t >> 1] for t in run]
        low, high = min(p.from_m for p in pieces), max(p.to_m for p in pieces)
        legs.append(
            Leg(
                shift=number,
                round=shift.round,
                piece=Piece(pieces[0].line, low, high),
                backwards=bool(run[0] & 1),
                before=int(laid.nodes[leave]),
                first=int(laid.nodes[run[0]]),
                last=int(laid.nodes[run[-1] ^ 1]),
                there_m=there,
                straight=bool(laid.straight[leave, run[0]]),
                numbers=tuple(t >> 1 for t in run),
                since_start_min=clock,
                leg_min=takes,
            )
        )
        at = run[-1]
    return legs


def _goes_on(round_: Round, before: int, token: int) -> bool:
    """Whether one piece is walked on from the other, the same way along the same line."""
    one, other = round_.pieces[before >> 1], round_.pieces[token >> 1]
    if one.line is not other.line or (before ^ token) & 1:
        return False
    return one.from_m == other.to_m if token & 1 else one.to_m == other.from_m
