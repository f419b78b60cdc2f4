"""What the change test knows of each place while the nights go by, and how its noise is learnt."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from district.detect.baseline import Flags, Ints, Reals
from district.detect.filter import (
    CARRIED,
    FIRST_EFFECT,
    LEVEL,
    USUAL_CARRY,
    WANDER,
    Filter,
    Outlook,
    begun_filter,
    next_night,
    taken,
)
from district.detect.onsets import Onsets, none_yet
from district.detect.rhythm import DAY_FEATURES, others_movement

FIRST_NIGHTS = 14
"""Nights that make the first baseline; a change within them is not seen."""
CLIP, CLIP_OF_STEP = 3.0, 2.5
"""Nights further out count as if they were only so far, in standard deviations: for the baseline,
and for a step (robust filtering: Masreliez & Martin 1977, IEEE Transactions on Automatic Control
22, from memory)."""
_NOISE_NIGHTS = 240
_CORE = 3.0  # the noise is that of nights within three of it
_ROUNDS = 3
_USUAL_NIGHTS, _CARRY_NIGHTS, _MOST_CARRY = 20.0, 20.0, 0.6
"""For how many nights speaks what is taken as usual; the most carried over that is believed."""
_UNSURE, _FIRST_COUNT = 600.0, 12.0
_MOST_APART = 10.0
_TO_SIGMA = 1.482602218505602  # MAD of a normal variable, to its standard deviation


@dataclass(frozen=True)
class Alarm:
    """What the test told on one night; nights are positions in the series."""

    position: int
    """Likeliest first night at the new level, as seen then."""
    detected: int
    rise: bool


@dataclass(eq=False)
class Course:
    """What is known while the nights go by; arrays of nights and places are filled in place."""

    y: Reals
    known: Flags
    features: Reals
    shared: bool
    floor_l_s: float
    unit_l_s: Reals  # noise by the first nights: what the filter counts in; 0 before
    noise: Reals  # of surprises, in what the filter expects of them
    unsure: Reals  # how much more, since few nights have shown it
    seen: Ints
    filter: Filter
    onsets: Onsets
    common: Reals | None  # movement shared
    surprise: Reals  # in expected standard deviations, NaN where not told
    rest: Reals  # flow that nothing but carried noise explains, 0 where not known
    latest: Reals  # surprise of the latest two known nights, shape (2, places)
    alarms: list[list[Alarm]]


def begun(y: Reals, features: Reals, shared: bool, floor_l_s: float) -> Course:
    """Before the first night."""
    places = y.shape[1]
    unborn = begun_filter(np.zeros(places), features.shape[1], shared=shared)
    return Course(
        y=y,
        known=np.isfinite(y),
        features=features,
        shared=shared,
        floor_l_s=floor_l_s,
        unit_l_s=np.zeros(places),
        noise=np.ones(places),
        unsure=np.ones(places),
        seen=np.zeros(places, dtype=np.intp),
        filter=unborn,
        onsets=none_yet(places, unborn.mean.shape[1]),
        common=np.zeros(y.shape) if shared else None,
        surprise=np.full(y.shape, np.nan),
        rest=np.zeros(y.shape),
        latest=np.zeros((2, places)),
        alarms=[[] for _ in range(places)],
    )


def night_taken(c: Course, night: int) -> tuple[Outlook, Reals, Flags]:
    """Take a night into the filter: its outlook, the surprises, and where they are known."""
    known = c.known[night] & (c.unit_l_s > 0)
    flow = np.where(known, c.y[night], 0.0) / np.where(known, c.unit_l_s, 1.0)
    if c.common is not None:
        c.common[night] = _others(c, night, flow, known)
    outlook = next_night(c.filter, c.features[night], None if c.common is None else c.common[night])
    surprise = np.where(known, flow - outlook.flow, 0.0)
    error = np.sqrt(outlook.variance)
    c.surprise[night] = np.where(known, surprise / error, np.nan)
    c.rest[night] = np.where(known, surprise + c.filter.mean[:, CARRIED], 0.0)
    c.latest = np.where(known, np.stack([c.latest[1], surprise / error]), c.latest)
    reach = CLIP * error * c.noise
    taken(c.filter, outlook, np.clip(surprise, -reach, reach), known)
    c.seen += known
    return outlook, surprise, known


def _others(c: Course, night: int, flow: Reals, known: Flags) -> Reals:
    """How far the other places are from what weekday and level make of the night."""
    days = slice(FIRST_EFFECT, FIRST_EFFECT + DAY_FEATURES)
    mean = c.filter.mean
    usual = mean[:, LEVEL] + mean[:, WANDER] + mean[:, days] @ c.features[night, :DAY_FEATURES]
    apart = np.clip(flow - usual, -_MOST_APART, _MOST_APART)
    return others_movement(np.where(known, apart, np.nan))


def join(c: Course, night: int) -> None:
    """Let places in whose first nights are known, up to and with `night`; their noise is that of
    differences between neighbours, so that a slope or step hardly counts."""
    enough = (c.unit_l_s <= 0) & (c.known[: night + 1].sum(axis=0) >= FIRST_NIGHTS)
    at = np.flatnonzero(enough & c.known[night])
    if not len(at):
        return
    first = int(np.argmax(c.known[:, at].any(axis=1)))
    y = c.y[first : night + 1, at]
    unit = np.maximum(rough(y), c.floor_l_s)
    at, y, unit = at[unit > 0], y[:, unit > 0], unit[unit > 0]
    if not len(at):
        return
    part = begun(y, c.features[first : night + 1], c.shared, c.floor_l_s)
    part.unit_l_s = unit
    part.filter.mean[:, LEVEL] = np.nanmedian(y, axis=0) / unit
    for earlier in range(len(y)):
        night_taken(part, earlier)
    c.unit_l_s[at] = unit
    c.seen[at] = part.seen
    c.surprise[first : night + 1, at] = part.surprise
    c.rest[first : night + 1, at] = part.rest
    for field in fields(Filter):
        getattr(c.filter, field.name)[at] = getattr(part.filter, field.name)


def rough(flow_l_s: Reals) -> Reals:
    """Noise from differences between neighbouring nights, shape (places,)."""
    apart = np.abs(np.diff(flow_l_s, axis=0))
    told = np.isfinite(apart).any(axis=0)
    middle = np.zeros(flow_l_s.shape[1])
    middle[told] = np.nanmedian(apart[:, told], axis=0) * _TO_SIGMA
    inside = np.isfinite(apart) & (apart <= 3 * middle)
    squares = np.where(inside, apart, 0.0) ** 2
    count = np.maximum(inside.sum(axis=0), 1)
    return np.asarray(np.sqrt(squares.sum(axis=0) / count / 2 * (1 + 1 / count)))


def learn(c: Course, night: int) -> None:
    """Noise, and what nights carry over, by the nights before `night`."""
    back = slice(max(0, night - _NOISE_NIGHTS), night)
    told = np.isfinite(c.surprise[back])
    apart = np.where(told, c.surprise[back], 0.0)
    count = told.sum(axis=0) + _USUAL_NIGHTS
    noise = c.noise
    for _ in range(_ROUNDS):
        squares = np.clip(apart, -_CORE * noise, _CORE * noise) ** 2
        noise = np.sqrt((squares.sum(axis=0) + _USUAL_NIGHTS) / count)
    least = c.floor_l_s / np.where(c.unit_l_s > 0, c.unit_l_s, np.inf)
    c.noise = np.maximum(noise, least)
    c.unsure = np.sqrt(1 + _UNSURE / (c.seen + _FIRST_COUNT) ** 2)
    kept = np.clip(c.rest[back], -_CORE * c.noise, _CORE * c.noise)
    prior = _CARRY_NIGHTS * c.noise**2
    cross = (kept[1:] * kept[:-1]).sum(axis=0) + USUAL_CARRY * prior
    whole = (kept**2).sum(axis=0) + prior
    c.filter.carry_share[:] = np.clip(cross / whole, 0.0, _MOST_CARRY)
