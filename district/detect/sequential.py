"""The change test as it runs each morning, on all places at once, and the alarms it gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Reals
from district.detect.course import (
    FIRST_NIGHTS,
    MEMORY_NIGHTS,
    Alarm,
    Course,
    Window,
    begun,
    effects_by,
    fill,
    learn,
    level_before,
    noise_of,
    opened,
)
from district.detect.rhythm import DAY_FEATURES, others_movement, rhythm_l_s
from district.detect.scores import step_scores, whitened

LAGS = (2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 34, 40, 48)
"""Nights since the change that are tried."""
CLIPS = (2.0,)
"""Nights further out, in standard deviations, count as if they were only so far."""
BLOCK_NIGHTS = 14
"""Rhythm and noise are learnt anew after so many nights."""
_EXCURSION = 4.0
_EXCURSION_NIGHTS = 10
_MOST_APART = 10.0
_SEASONAL = 1.5  # no more standard deviations of a step may turn out to have been season
_BASE_NIGHTS = 365
_BURST = 8.0  # two nights so many standard deviations out are told at once
_NEAR_NIGHTS, _FAR = 14, 6.0  # a step is dated among so many nights before, spikes limited


@dataclass(frozen=True, eq=False)
class Told:
    """Alarms of each place, oldest first, and the rhythm by all nights."""

    alarms: tuple[tuple[Alarm, ...], ...]
    rhythm_l_s: Reals
    """Shape (nights, places)."""


def watch(
    flow_l_s: Reals,
    *,
    limit: float,
    features: Reals,
    shared: bool,
    floor_l_s: float = 0.0,
    clips: tuple[float, ...] = CLIPS,
    lags: tuple[int, ...] = LAGS,
    block_nights: int = BLOCK_NIGHTS,
) -> Told:
    """Judge every night by the nights up to it, and tell the alarms.

    Parameters: `flow_l_s` shape (nights, places), NaN where missing or left out; `limit` in
    standard errors (see `limits`); `features` of each night (see `rhythm`); `shared` whether the
    places move together; the noise is taken for `floor_l_s` at least.
    """
    nights = len(flow_l_s)
    course = begun(flow_l_s, features, shared, limit, floor_l_s, clips, lags)
    for start in range(0, nights, block_nights):
        end = min(nights, start + block_nights)
        learn(course, start)
        window = opened(course, start, end)
        for night in range(start, end):
            _taken(course, window, night)
            _returns(course, window, night)
            _judge(course, window, night)
    rhythm = rhythm_l_s(features, course.common, effects_by(course, nights, between=0.0))
    return Told(tuple(tuple(a) for a in course.alarms), rhythm)


def _taken(c: Course, w: Window, night: int) -> None:
    """Take in one night: its rhythm, how far it is from its level, its whitened flow."""
    row = night - w.first
    if c.common is not None:
        c.common[night] = _others(c, night)
        w.rhythm[row] = rhythm_l_s(
            c.features[night : night + 1], c.common[night : night + 1], c.effects
        )
    known = c.known[night]
    raw = np.where(known, c.y[night], 0.0) - w.rhythm[row]
    level, count = level_before(w, row)
    level = np.where(count > 0, level, raw)
    apart = raw - level
    told = known & (count >= 3)
    c.apart[night] = np.where(told, apart, np.nan)
    c.latest = np.where(told, np.stack([c.latest[1], apart]), c.latest)
    for k, clip in enumerate(c.clips):
        reach = np.where(c.spread.core_l_s > 0, clip * c.spread.core_l_s, np.inf)
        tame = level + np.clip(apart, -reach, reach)
        c.tamed[k, night] = np.where(known, tame + w.rhythm[row], 0.0)
    now = slice(row - 1 if row else row, row + 1)
    flow = c.tamed[:, night : night + 1] - w.rhythm[row]
    w.flow[:, row : row + 1] = flow
    held = np.broadcast_to(known, (len(c.clips), 1, len(known)))
    if row:
        before = np.diff(w.sums.count[0, row - 1 : row + 1], axis=0) > 0
        earlier = np.broadcast_to(before, held.shape)
        held = np.concatenate([earlier, held], axis=1)
    white = whitened(
        w.flow[:, now], held, carry_share=c.spread.carry_share, noise_l_s=noise_of(c)[:, None]
    )
    w.white.flow[:, row] = white.flow[:, -1]
    w.white.level[:, row] = white.level[:, -1]
    w.white.first[:, row] = white.first[:, -1]
    w.sums.weight[:, row + 1] = w.sums.weight[:, row] + white.level[:, -1] ** 2
    w.sums.flow[:, row + 1] = w.sums.flow[:, row] + white.level[:, -1] * white.flow[:, -1]
    w.sums.count[:, row + 1] = w.sums.count[:, row] + known
    w.plain[row + 1] = w.plain[row] + np.where(known, flow[0, 0], 0.0)


def _others(c: Course, night: int) -> Reals:
    """How far the other places are from where they use to be, steps found so far taken off."""
    c.scale = core = np.where(c.scale > 0, c.scale, c.spread.core_l_s)
    days = c.features[night : night + 1, ..., :DAY_FEATURES]
    usual = rhythm_l_s(days, None, c.effects[:, :DAY_FEATURES])[0]
    flow = c.y[night] - usual - c.shift
    told = (c.base_count >= FIRST_NIGHTS) & (core > 0)
    away = flow - c.base
    apart = np.clip(away / np.where(core > 0, core, 1.0), -_MOST_APART, _MOST_APART)
    moved = others_movement(np.where(told, apart, np.nan))
    known = c.known[night]
    c.base_count += known
    gain = 1 / np.clip(c.base_count, 1, _BASE_NIGHTS)
    away = np.where(told, apart * core, away)
    c.base += np.where(known, gain * np.where(known, away, 0.0), 0.0)
    return moved


def _judge(c: Course, w: Window, night: int) -> None:
    judged = c.known[night] & (night >= c.ready) & (c.spread.core_l_s > 0)
    if not judged.any():
        return
    score, begin = step_scores(
        w.sums, w.white, night - w.first, lags=c.lags, memory_nights=MEMORY_NIGHTS
    )
    score = score.reshape(-1, score.shape[-1])
    best = np.abs(score).argmax(axis=0)
    top = score[best, np.arange(len(best))]
    burst = _BURST * c.spread.core_l_s
    sudden = (c.latest > burst).all(axis=0) | (c.latest < -burst).all(axis=0)
    hits = np.flatnonzero(judged & ((np.abs(top) > c.limit) | sudden))
    for place in hits:
        first = w.first + int(begin[best[place] % len(begin)])
        _alarm(c, w, int(place), first, night)
    if len(hits):
        fill(c, w, hits, night + 1)


def _alarm(c: Course, w: Window, place: int, first: int, night: int) -> None:
    first = _likeliest(c, w, place, first, night)
    row, end = first - w.first, night + 1 - w.first
    old = float(level_before(w, row)[0][place])
    raw = c.y[first : night + 1, place] - w.rhythm[row:end, place]
    middle = float(np.nanmedian(raw))
    c.alarms[place].append(Alarm(first, night, middle > old))
    c.latest[:, place] = 0.0
    for k, clip in enumerate(c.clips):
        reach = clip * c.spread.core_l_s[place]
        tame = np.clip(raw, middle - reach, middle + reach)
        c.tamed[k, first : night + 1, place] = np.where(
            np.isfinite(raw), tame + w.rhythm[row:end, place], 0.0
        )
    if c.away[place] < 0 or first - c.away[place] > _EXCURSION_NIGHTS:
        c.before[place], c.old[place], c.away[place] = c.begin[place], old, first
    c.new[place] = middle
    c.shift[place] += middle - old
    believed = _SEASONAL * c.spread.core_l_s[place]
    c.steps[first:, place] += middle - old - float(np.clip(middle - old, -believed, believed))
    c.begin[place] = first
    c.part[first:, place] = c.part[:, place].max() + 1


def _likeliest(c: Course, w: Window, place: int, first: int, night: int) -> int:
    """First night of a step near `first`, by nights limited less than those it was found by."""
    begin = max(int(c.begin[place]) + 1, w.first + 1, first - _NEAR_NIGHTS)
    old = float(level_before(w, min(begin, first) - w.first)[0][place])
    nights = begin + np.flatnonzero(c.known[begin : night + 1, place])
    if len(nights) <= 2:
        return int(nights[0])
    reach = _FAR * c.spread.core_l_s[place]
    raw = c.y[nights, place] - w.rhythm[nights - w.first, place]
    apart = np.clip(raw - old, -reach, reach)
    after = np.cumsum(apart[::-1])[::-1] ** 2 / np.arange(len(nights), 0, -1)
    return int(nights[after[:-1].argmax()])


def _returns(c: Course, w: Window, night: int) -> None:
    """End excursions: two nights that are nearer to the old level than to the new one."""
    away = np.flatnonzero((c.away >= 0) & c.known[night])
    over = night - c.away[away] > _EXCURSION_NIGHTS + 2
    c.away[away[over]] = -1
    back = []
    for place in away[~over]:
        nights = c.away[place] + np.flatnonzero(c.known[c.away[place] : night + 1, place])
        size = c.new[place] - c.old[place]
        if len(nights) < 4 or abs(size) <= _EXCURSION * c.spread.core_l_s[place]:
            continue
        last = nights[-2:]
        raw = c.y[last, place] - w.rhythm[last - w.first, place]
        if ((raw - (c.new[place] + c.old[place]) / 2) * size < 0).all():
            _return(c, w, int(place), int(last[0]), night, rise=bool(size < 0))
            back.append(int(place))
    if back:
        fill(c, w, np.array(back), night + 1)


def _return(c: Course, w: Window, place: int, first: int, night: int, *, rise: bool) -> None:
    c.alarms[place].append(Alarm(first, night, rise))
    begun = int(c.away[place])
    c.out[begun:first, place] = True
    c.shift[place] -= c.new[place] - c.old[place]
    c.begin[place] = c.before[place]
    rhythm = w.rhythm[first - w.first : night + 1 - w.first, place]
    raw = c.y[first : night + 1, place] - rhythm
    for k, clip in enumerate(c.clips):
        reach = clip * c.spread.core_l_s[place]
        tame = np.clip(raw, c.old[place] - reach, c.old[place] + reach)
        c.tamed[k, first : night + 1, place] = np.where(np.isfinite(raw), tame + rhythm, 0.0)
    c.part[first:, place] = c.part[max(0, begun - 1), place]
    c.steps[first:, place] = c.steps[max(0, begun - 1), place]
    c.away[place] = -1
