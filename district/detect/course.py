"""What the change test knows while the nights go by, and the window of nights it looks at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Ints, Reals
from district.detect.rhythm import fit_rhythm, rhythm_l_s
from district.detect.scores import Sums, Whitened, running, whitened
from district.detect.spread import Spread, learnt, unknown

FIRST_NIGHTS = 14
"""Nights that make the first baseline; a change within them is not seen."""
MEMORY_NIGHTS = 60
"""The level before a change is the mean of so many nights, so that slow drift is followed."""
_NOISE_NIGHTS = 240


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
    limit: float
    floor_l_s: float
    clips: tuple[float, ...]
    lags: Ints
    tamed: Reals  # (clips, nights, places): flows, spikes limited
    out: Flags  # nights of an excursion that is over
    part: Ints  # which level each night belongs to
    steps: Reals  # what steps up to each night are too large for a season
    common: Reals | None
    effects: Reals
    apart: Reals  # from the level before, NaN where not told
    latest: Reals  # that of the latest two known nights, shape (2, places)
    spread: Spread
    ready: Ints  # night from which on a place is judged
    begin: Ints  # first night of the present level
    before: Ints  # of the level before, while the present one may be an excursion
    away: Ints  # first night of such an excursion, -1 where there is none
    old: Reals
    new: Reals
    shift: Reals  # sum of the steps found so far
    scale: Reals  # noise when first known: others are held against the same all along
    base: Reals
    base_count: Reals
    alarms: list[list[Alarm]]


@dataclass(eq=False)
class Window:
    """The nights that the test of one block looks at, from night `first` on."""

    first: int
    rhythm: Reals
    flow: Reals  # (clips, nights, places)
    white: Whitened
    sums: Sums
    plain: Reals  # running sum of the flow


def begun(
    y: Reals,
    features: Reals,
    shared: bool,
    limit: float,
    floor_l_s: float,
    clips: tuple[float, ...],
    lags: tuple[int, ...],
) -> Course:
    """Before the first night."""
    nights, places = y.shape
    known = np.isfinite(y)
    seen = np.cumsum(known, axis=0)
    enough = seen[-1] > FIRST_NIGHTS if nights else np.zeros(places, dtype=bool)
    ready = np.where(enough, np.argmax(seen > FIRST_NIGHTS, axis=0), nights)
    first = np.argmax(known, axis=0).astype(np.intp)
    return Course(
        y=y,
        known=known,
        features=features,
        limit=limit,
        floor_l_s=floor_l_s,
        clips=clips,
        lags=np.array(lags),
        tamed=np.zeros((len(clips), nights, places)),
        out=np.zeros(y.shape, dtype=bool),
        part=np.zeros(y.shape, dtype=np.intp),
        steps=np.zeros(y.shape),
        common=np.zeros(y.shape) if shared else None,
        effects=np.zeros((places, features.shape[-1] + shared)),
        apart=np.full(y.shape, np.nan),
        latest=np.zeros((2, places)),
        spread=unknown(places, clips),
        ready=ready,
        begin=first,
        before=first.copy(),
        away=np.full(places, -1, dtype=np.intp),
        old=np.zeros(places),
        new=np.zeros(places),
        shift=np.zeros(places),
        scale=np.zeros(places),
        base=np.zeros(places),
        base_count=np.zeros(places),
        alarms=[[] for _ in range(places)],
    )


def learn(c: Course, night: int) -> None:
    """Rhythm and noise by the nights before `night`."""
    if not night:
        return
    c.effects = effects_by(c, night)
    good = c.known[:night] & ~c.out[:night]
    common = None if c.common is None else c.common[:night]
    back = max(0, night - _NOISE_NIGHTS)
    recent = None if common is None else common[back:]
    rhythm = rhythm_l_s(c.features[back:night], recent, c.effects)
    c.spread = learnt(
        c.apart[back:night],
        c.tamed[0, back:night] - rhythm,
        good[back:],
        c.spread,
        clips=c.clips,
        floor_l_s=c.floor_l_s,
        memory_nights=MEMORY_NIGHTS,
    )


def effects_by(c: Course, night: int, **how: float) -> Reals:
    """Coefficients of the rhythm by the nights before `night`, shape (places, effects)."""
    return fit_rhythm(
        c.tamed[0, :night] - c.steps[:night],
        c.known[:night] & ~c.out[:night],
        c.features[:night],
        None if c.common is None else c.common[:night],
        c.part[:night],
        **how,
    )


def opened(c: Course, start: int, end: int) -> Window:
    """The window of a block of nights, filled up to its first."""
    first = max(0, start - MEMORY_NIGHTS - int(c.lags[-1]) - 2)
    rhythm = rhythm_l_s(
        c.features[first:end], None if c.common is None else c.common[first:end], c.effects
    )
    shape = (len(c.clips), end - first, c.y.shape[1])
    more = (shape[0], shape[1] + 1, shape[2])
    window = Window(
        first,
        rhythm,
        np.zeros(shape),
        Whitened(np.zeros(shape), np.zeros(shape), np.zeros(shape)),
        Sums(np.zeros(more), np.zeros(more), np.zeros((1, *more[1:]))),
        np.zeros(more[1:]),
    )
    fill(c, window, np.arange(shape[2]), start)
    return window


def fill(c: Course, w: Window, at: Ints, end: int) -> None:
    """Whitened flows and their sums of places `at` on the window's nights before `end`."""
    rows = end - w.first
    night = np.arange(w.first, end)[:, None]
    known = c.known[w.first : end, at] & ~c.out[w.first : end, at] & (night >= c.begin[at])
    flow = c.tamed[:, w.first : end, at] - w.rhythm[:rows, at]
    white = whitened(
        flow,
        np.broadcast_to(known, flow.shape),
        carry_share=c.spread.carry_share[at],
        noise_l_s=noise_of(c)[:, None, at],
    )
    sums = running(white, np.broadcast_to(known, (1, *known.shape)))
    w.flow[:, :rows, at] = flow
    w.white.flow[:, :rows, at] = white.flow
    w.white.level[:, :rows, at] = white.level
    w.white.first[:, :rows, at] = white.first
    w.sums.weight[:, : rows + 1, at] = sums.weight
    w.sums.flow[:, : rows + 1, at] = sums.flow
    w.sums.count[:, : rows + 1, at] = sums.count
    w.plain[1 : rows + 1, at] = np.cumsum(np.where(known, flow[0], 0.0), axis=0)


def noise_of(c: Course) -> Reals:
    """Noise of nights by clip and place, above 0."""
    return np.maximum(c.spread.noise_l_s, 1e-12)


def level_before(w: Window, row: int) -> tuple[Reals, Reals]:
    """Mean flow of the nights before `row` at the present level, and how many they are."""
    back = max(0, row - MEMORY_NIGHTS)
    count: Reals = w.sums.count[0, row] - w.sums.count[0, back]
    return (w.plain[row] - w.plain[back]) / np.maximum(count, 1), count
