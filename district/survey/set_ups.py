"""Where to set two sensors so that a piece of pipe lies between them, and what they would tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np

from district.hydraulics.model import Flags, Reals, Wholes
from district.hydraulics.noise_loss import LOUD_DB, loss_db_per_m
from district.hydraulics.wave_speed import speeds_m_s
from district.network import Network
from district.network.ways import Places, Ways, costs, pieces_between, pipes_in_order, ways
from district.survey.fittings import Fittings, along_line
from district.survey.pieces import Piece

_AS_LONG_M = 0.5
"""A way that is longer by less than this is the same way."""
_LEAST_APART_M = 5.0
_CLEAR_M = 5.0
"""A sensor stands so far beyond the piece where it can: noise at the sensor itself looks like a
leak there. Assumption."""
_LEFT_M = 5.0
"""What is left of a piece beyond a sensor is not worth another set-up if it is shorter: a leak
there shows as one at the sensor. Assumption."""
_PLACED_M = 1.0
"""Standard deviation of where on the pipe a sensor sits, as the evidence takes it. Assumption."""
_Z = 1.96


@dataclass(frozen=True, eq=False)
class SetUp:
    """Two sensors about a piece: `first` towards the start of its stretch, `other` beyond.

    between_m
        along the pipe from the first to the other.
    parts (K), length_m (K)
        the parts of pipes between them from the first on, and how much of each.
    from_m, to_m
        the stretch of pipe between them that is to be searched, along the stretch.
    first_m
        where the first is along the stretch; below 0 before its start.
    largest_m
        how far apart they may be at most on such pipes.
    shorter_m
        another way between them along the pipes that is shorter; NaN if none.
    """

    piece: Piece
    first: int
    other: int
    between_m: float
    parts: Wholes
    length_m: Reals
    from_m: float
    to_m: float
    first_m: float
    largest_m: float
    shorter_m: float


@dataclass(frozen=True)
class Delay:
    """How much later the noise comes to the first than to the other, ms, with its 95 % limits."""

    middle_ms: float
    low_ms: float
    high_ms: float


@dataclass(frozen=True, eq=False)
class Hearing:
    """What set-ups are made of: the fittings, the ways of the network in metres and in noise lost,
    material, loss and speed by part in order of pipe_id."""

    fittings: Fittings
    metres: Ways
    losses: Ways
    material: Any
    loss_db_m: Reals
    speed_m_s: Reals
    spread_share: Reals


def hearing_of(network: Network, fittings: Fittings) -> Hearing:
    """The network as sound runs through it."""
    material = pipes_in_order(network)["material"].to_numpy(dtype=str)
    speed, spread = speeds_m_s(material)
    loss = loss_db_per_m(material)
    lost = ways(network, loss)
    return Hearing(fittings, ways(network), lost, material, loss, speed, spread)


@dataclass(frozen=True, eq=False)
class _InLine:
    """The fittings in line with a piece, in order: number, metres along its stretch, noise lost
    from the stretch's start (below 0 before it), and whether on the main."""

    number: Wholes
    at_m: Reals
    lost_db: Reals
    on_main: Flags


def set_ups_of(hearing: Hearing, piece: Piece) -> tuple[list[SetUp], list[tuple[float, float]]]:
    """Set-ups that have the piece between them, as few as were found, and what of it no two
    fittings enclose (from and to in metres along the stretch).

    Sensors go on the main where it has a fitting near enough, else on connections; no farther apart
    than lets a usual leak's noise at one of them reach the other, unless there is nothing nearer.
    """
    stand, lost_db = _in_line(hearing, piece), _lost_along(hearing, piece)
    found, bare = [], []
    covered = piece.from_m
    while covered < piece.to_m - _LEFT_M * (covered > piece.from_m) - _AS_LONG_M:
        passed_db = float(np.interp(covered, piece.line.ends_m, lost_db))
        first = _first(stand, covered, passed_db)
        if first < 0:
            ahead = stand.at_m[stand.at_m > covered]
            upto = min(float(ahead.min()), piece.to_m) if len(ahead) else piece.to_m
            if upto - covered > _LEFT_M:
                bare.append((covered, upto))
            covered = upto
            continue
        other = _other(stand, first, covered, passed_db, piece.to_m)
        if other < 0:
            bare.append((covered, piece.to_m))
            break
        upto = min(float(stand.at_m[other]), piece.to_m)
        found.append(_set_up(hearing, piece, stand, (first, other), (covered, upto)))
        covered = upto
    return found, bare


def _lost_along(hearing: Hearing, piece: Piece) -> Reals:
    """Noise lost from the start of the line to each end of its parts."""
    line = piece.line
    return np.append(0.0, np.cumsum(np.diff(line.ends_m) * hearing.loss_db_m[line.part]))


def _in_line(hearing: Hearing, piece: Piece) -> _InLine:
    """Those on the line, and those beyond its ends to which sound of the piece comes through that
    end, as far as it is heard."""
    fittings, line, lost = hearing.fittings, piece.line, _lost_along(hearing, piece)
    own, at_m = along_line(fittings, line)
    ends = Places(line.part[[0, -1]], np.array([0.0, 1.0]))
    far = costs(hearing.metres, ends, fittings.part, fittings.share)
    far_db = costs(hearing.losses, ends, fittings.part, fittings.share)
    length = float(line.ends_m[-1] - line.ends_m[0])
    others = np.ones(len(fittings.part), dtype=bool)
    others[own] = False
    through_start = far[1] >= far[0] + length - _AS_LONG_M
    through_end = far[0] >= far[1] + length - _AS_LONG_M
    heard = others & (far_db <= LOUD_DB)
    before = np.flatnonzero(heard[0] & through_start)
    after = np.flatnonzero(heard[1] & through_end & ~through_start)
    number = np.concatenate([own, before, after])
    where = np.concatenate([at_m, line.ends_m[0] - far[0][before], line.ends_m[-1] + far[1][after]])
    on_line = np.interp(at_m, line.ends_m, lost)
    lost_db = np.concatenate([on_line, -far_db[0][before], lost[-1] + far_db[1][after]])
    on_main = fittings.on_main[number]
    order = np.lexsort((fittings.name[number].astype(str), ~on_main, where))
    return _InLine(number[order], where[order], lost_db[order], on_main[order])


def _first(stand: _InLine, covered_m: float, passed_db: float) -> int:
    """The nearest fitting before what is still to be covered, clear of it if one is, of the main if
    one is within a third of what is heard; -1 if none is heard."""
    back, back_db = covered_m - stand.at_m, passed_db - stand.lost_db
    fits = (back >= -_AS_LONG_M) & (back_db <= LOUD_DB)
    close, clear = fits & (back_db <= LOUD_DB / 3), back >= _CLEAR_M
    for better in (close & stand.on_main & clear, close & stand.on_main, close & clear, fits):
        if better.any():
            return int(np.argmin(np.where(better, back, np.inf)))
    return -1


def _other(stand: _InLine, first: int, covered_m: float, passed_db: float, to_m: float) -> int:
    """The other end of the span: the nearest that has all of the piece before it, else the farthest
    that is heard, else the nearest there is; -1 if none."""
    at_m, on_main, first_db = stand.at_m, stand.on_main, float(stand.lost_db[first])
    ahead = (at_m > covered_m + _AS_LONG_M) & (at_m >= at_m[first] + _LEAST_APART_M)
    heard = ahead & (stand.lost_db <= first_db + LOUD_DB)
    all_of_it = heard & (at_m >= to_m - _AS_LONG_M)
    clear = all_of_it & (at_m >= to_m + _CLEAR_M)
    for better in (clear & on_main, all_of_it & on_main, clear, all_of_it):
        if better.any():
            return int(np.argmin(np.where(better, at_m, np.inf)))
    if heard.any():
        main = heard & on_main & (stand.lost_db >= (passed_db + first_db + LOUD_DB) / 2)
        far = main if main.any() else heard
        return int(np.argmax(np.where(far, at_m, -np.inf)))
    return int(np.argmin(np.where(ahead, at_m, np.inf))) if ahead.any() else -1


def _set_up(
    hearing: Hearing,
    piece: Piece,
    stand: _InLine,
    chosen: tuple[int, int],
    covered_m: tuple[float, float],
) -> SetUp:
    first, other = (int(stand.number[k]) for k in chosen)
    at_m, fittings = stand.at_m[list(chosen)], hearing.fittings
    between = float(at_m[1] - at_m[0])
    ends = [Places(fittings.part[[n]], fittings.share[[n]]) for n in (first, other)]
    pipe, share = pieces_between(hearing.metres, *ends)
    length = hearing.metres.cost[pipe] * share
    shortest = float(length.sum())
    kept = length > 0
    loss = float(length @ hearing.loss_db_m[pipe]) / max(shortest, 1e-9)
    return SetUp(
        piece=piece,
        first=first,
        other=other,
        between_m=between,
        parts=pipe[kept],
        length_m=length[kept],
        from_m=covered_m[0],
        to_m=covered_m[1],
        first_m=float(at_m[0]),
        largest_m=LOUD_DB / loss,
        shorter_m=shortest if shortest < between - _AS_LONG_M else np.nan,
    )


def speed_of(hearing: Hearing, found: SetUp) -> tuple[float, float]:
    """Speed of sound between the two sensors, m/s, and its 95 % limit as a share of it."""
    length, speed = found.length_m, hearing.speed_m_s[found.parts]
    mean = float(length.sum() / (length / speed).sum())
    return mean, float(np.average(hearing.spread_share[found.parts], weights=length))


def delay_at(hearing: Hearing, found: SetUp, along_m: float) -> Delay:
    """The delay of a leak `along_m` along the stretch; one beyond a sensor counts as at it.

    By the time of sound to each sensor, 2 T(x) - T, with T(x) that to the first: the formula
    L = 2 l + TD v of Thornton, Sturm & Kunkel 2008, figure 16.10, for pipes of several speeds. The
    limits join the spread of the speed and where the sensors sit.
    """
    length = found.length_m * (found.between_m / max(float(found.length_m.sum()), 1e-9))
    time = np.append(0.0, np.cumsum(length / hearing.speed_m_s[found.parts]))
    metres = np.append(0.0, np.cumsum(length))
    to_first = float(np.interp(along_m - found.first_m, metres, time))
    delay = 1000 * (2 * to_first - float(time[-1]))
    speed, spread = speed_of(hearing, found)
    placed = 1000 * _Z * hypot(_PLACED_M, _PLACED_M) / speed
    slower, faster = delay / (1 - min(spread, 0.9)), delay / (1 + spread)
    ends = sorted([delay, slower, faster])
    return Delay(
        delay, delay - hypot(delay - ends[0], placed), delay + hypot(ends[2] - delay, placed)
    )


def materials_of(hearing: Hearing, found: SetUp) -> Sequence[str]:
    """The materials between the sensors, once each, from the first on."""
    return tuple(dict.fromkeys(str(m) for m in hearing.material[found.parts]))
