"""The change test as it runs each morning, on all places at once, and the alarms it gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Reals
from district.detect.course import CLIP_OF_STEP, Alarm, Course, begun, join, learn, night_taken
from district.detect.filter import FIRST_EFFECT, LEVEL, WANDER, usual
from district.detect.onsets import felt, likeliest, opened, stepped
from district.detect.rhythm import DAY_FEATURES

BLOCK_NIGHTS = 14
"""The noise is learnt anew after so many nights."""
_YEAR_NIGHTS = 365  # before a year is full, a season cannot be told from a level
_BURST = 8.0  # two nights so many standard deviations out are told at once
_SETTLED = 2  # nights after its first, a step that began within that one is at its full size
_NEAR = 3.0  # of a step much larger than nights are limited to, so much is left to the filter


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
    jump_l_s: Reals | None = None,
) -> Told:
    """Judge every night by the nights up to it, and tell the alarms.

    Parameters: `flow_l_s` shape (nights, places), NaN where missing or left out; `limit` in
    standard errors (see `night_noise`); `features` of each night (see `rhythm`); `shared` whether
    the places move together; the noise is taken for `floor_l_s` at least; `jump_l_s` shape
    (nights, places): standard deviation by which the level may change with a night as is known
    beforehand, as where a meter was changed; none where not given.
    """
    course = begun(flow_l_s, features, shared, floor_l_s)
    for night in range(len(flow_l_s)):
        if night and night % BLOCK_NIGHTS == 0:
            learn(course, night)
        judged = course.unit_l_s > 0
        if judged.any():
            _loosen(course, night, jump_l_s)
            opened(course.onsets, course.filter, night, judged)
            outlook, surprise, known = night_taken(course, night)
            reach = CLIP_OF_STEP * np.sqrt(outlook.variance) * course.noise
            felt(course.onsets, outlook, np.clip(surprise, -reach, reach), known)
            _judge(course, night, limit, known)
        join(course, night)
    return Told(tuple(tuple(a) for a in course.alarms), _rhythm_l_s(course))


def _loosen(c: Course, night: int, jump_l_s: Reals | None) -> None:
    if jump_l_s is None or not jump_l_s[night].any():
        return
    jump = jump_l_s[night] / np.where(c.unit_l_s > 0, c.unit_l_s, np.inf)
    c.filter.cov[:, LEVEL, LEVEL] += jump**2


def _judge(c: Course, night: int, limit: float, known: Flags) -> None:
    score, slot = likeliest(c.onsets)
    noise = c.noise * c.unsure
    burst = _BURST * noise
    sudden = (c.latest > burst).all(axis=0) | (c.latest < -burst).all(axis=0)
    for place in np.flatnonzero(known & ((np.abs(score) > limit * noise) | sudden)):
        _alarm(c, int(place), int(slot[place]), night, rise=bool(score[place] > 0))


def _alarm(c: Course, place: int, slot: int, night: int, *, rise: bool) -> None:
    first = int(c.onsets.first[slot])
    told = c.alarms[place][-1:]
    # A step that began within its first night is told smaller than it is: more of it is no other.
    if not (told and told[0].rise == rise and first - told[0].position <= _SETTLED):
        c.alarms[place].append(Alarm(first, night, rise))
    stepped(c.onsets, c.filter, place, slot)
    c.latest[:, place] = 0.0
    # The filter saw a large step only as far as nights are limited to.
    since = slice(first, night + 1)
    flow = c.y[since, place] / c.unit_l_s[place]
    mean = c.filter.mean[place]
    rhythm = c.features[since] @ mean[FIRST_EFFECT : FIRST_EFFECT + c.features.shape[1]]
    if c.common is not None:
        rhythm = rhythm + c.common[since, place] * mean[-1]
    left = float(np.nanmedian(flow - rhythm)) - mean[LEVEL] - mean[WANDER]
    if abs(left) > _NEAR * c.noise[place]:
        mean[LEVEL] += left


def _rhythm_l_s(c: Course) -> Reals:
    rhythm = usual(c.filter, c.features, c.common)
    waves = c.features[:, DAY_FEATURES:]
    if waves.shape[1]:
        nights = len(c.known) - np.argmax(c.known, axis=0)
        effects = c.filter.mean[:, FIRST_EFFECT + DAY_FEATURES : FIRST_EFFECT + c.features.shape[1]]
        rhythm -= np.where(nights <= _YEAR_NIGHTS, waves @ effects.T, 0.0)
    return np.asarray(rhythm * c.unit_l_s)
