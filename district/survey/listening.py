"""Where to listen along a piece, so that no place on it is far from a listening point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Reals, Wholes
from district.survey.fittings import Fittings, along_line
from district.survey.lines import Line
from district.survey.pieces import Piece

GROUND = -1
"""Number of the fitting where there is none: the surface above the pipe."""
SOFT = ("pvc", "polyethylene", "grp", "unknown")
"""Materials that carry leak noise no farther than plastic does, as far as is known."""
_NEAR_M = 0.5


@dataclass(frozen=True)
class Point:
    """One place to listen at: how far along its stretch, and at which fitting, if any."""

    along_m: float
    fitting: int


def listening_points(
    piece: Piece, fittings: Fittings, *, apart_m: float, apart_plastic_m: float
) -> list[Point]:
    """The listening points of a piece, from its start to its end.

    Every fitting of the main on it; connections between them, as few as are needed; and where none
    of these is near enough the ground above the pipe. No place is then farther than half of
    `apart_m` from a point, on plastic of `apart_plastic_m`.
    """
    number, at_m = along_line(fittings, piece.line)
    on_it = (at_m >= piece.from_m - _NEAR_M) & (at_m <= piece.to_m + _NEAR_M)
    number, at_m = number[on_it], at_m[on_it].clip(piece.from_m, piece.to_m)
    taken = set(np.flatnonzero(fittings.on_main[number]).tolist())
    ground: list[Point] = []
    heard_m = piece.from_m
    while heard_m < piece.to_m - _NEAR_M:
        soft = material_at(piece.line, heard_m + _NEAR_M) in SOFT
        half = (apart_plastic_m if soft else apart_m) / 2
        best = _farthest(number, at_m, heard_m, half, taken)
        if best >= 0:
            taken.add(best)
            heard_m = max(float(at_m[best]) + half, heard_m + _NEAR_M)
        else:
            there = min(heard_m + half, (heard_m + piece.to_m) / 2)
            ground.append(Point(there, GROUND))
            heard_m = there + half
    points = [Point(float(at_m[k]), int(number[k])) for k in taken]
    return sorted([*points, *ground], key=lambda p: (p.along_m, p.fitting))


def material_at(line: Line, at_m: float) -> str:
    """What the pipe is made of there."""
    part, _ = line.place(at_m)
    return str(line.material[int(np.flatnonzero(line.part == part)[0])])


def _farthest(number: Wholes, at_m: Reals, heard_m: float, half_m: float, taken: set[int]) -> int:
    """The fitting that hears from `heard_m` on and farthest beyond it; -1 where none does. One that
    is listened at anyway comes first where it reaches as far to half a metre."""
    gains = (at_m <= heard_m + half_m) & (at_m + half_m > heard_m + _NEAR_M)
    if not gains.any():
        return -1
    chosen = np.array([k in taken for k in range(len(number))])
    return int(np.argmax(np.where(gains, at_m + np.where(chosen, _NEAR_M, 0.0), -np.inf)))
