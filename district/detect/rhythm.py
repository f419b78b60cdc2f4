"""What nights have in common whatever leaks: weekday, season, holidays and other zones' movement.

Fitted by penalised least squares on the nights so far (ridge; Hoerl & Kennard 1970,
Technometrics 12, from memory), so that what does not stand out of the noise is hardly believed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from district.detect.baseline import Flags, Ints, Reals

DAYS_YEAR = 365.2425
_DAYS = 7
_VACATION_DAYS = 4
DAY_FEATURES = _DAYS + 2
_WAVES = 2
# Penalties: nights' worth of evidence against each effect. A season is held to more, since noise
# that wanders from month to month looks like one.
_DAY, _HOLIDAY, _WAVE, _COMMON = 2.0, 2.0, 15.0, 10.0
_SEASON_NIGHTS, _NEVER = 365, 1e9
_BETWEEN = 0.3  # weight of differences between levels: steps found wrongly may have been season


def day_features(axis: pd.DatetimeIndex, holidays: Sequence[tuple[date, date]]) -> Reals:
    """Weekday and holiday marks of each night, shape (nights, `DAY_FEATURES`).

    `holidays` as first and last days. A single holiday is counted as a Sunday, and may differ
    from one; a vacation of four days and more keeps its weekdays, and may differ from term.
    """
    single, long = np.zeros(len(axis), dtype=bool), np.zeros(len(axis), dtype=bool)
    for first, last in holidays:
        away = (axis >= pd.Timestamp(first)) & (axis <= pd.Timestamp(last))
        if (last - first).days >= _VACATION_DAYS - 1:
            long |= away
        else:
            single |= away
    weekday = np.where(single, _DAYS - 1, axis.day_of_week)
    marks = weekday[:, None] == np.arange(_DAYS)
    return np.column_stack([marks, single, long]).astype(float)


def season_features(axis: pd.DatetimeIndex) -> Reals:
    """Yearly and half-yearly waves of each night, shape (nights, 4)."""
    day = (axis - pd.Timestamp("2000-01-01")) / pd.Timedelta(days=1)
    angle = 2 * np.pi * np.asarray(day, dtype=float)[:, None] / DAYS_YEAR
    angle = angle * np.arange(1, _WAVES + 1)
    return np.column_stack([np.sin(angle), np.cos(angle)])


def penalties(features_count: int, *, common: bool) -> Reals:
    """The penalty of each effect, in nights; features in the order of the two functions above."""
    waves = features_count - DAY_FEATURES
    known = [_DAY] * _DAYS + [_HOLIDAY] * 2 + [_WAVE] * waves
    return np.array([*known, _COMMON] if common else known)


def fit_rhythm(
    y: Reals,
    known: Flags,
    features: Reals,
    common: Reals | None,
    part: Ints,
    *,
    between: float = _BETWEEN,
) -> Reals:
    """Coefficients of the features (and of the common movement, last), shape (places, effects).

    Parameters: `y` flows in L/s, shape (nights, places), anything where not `known`; `features`
    shape (nights, features); `common` shape (nights, places) or None; `part` shape
    (nights, places): which level each night belongs to, counted from 0. Levels are free: they
    are taken off flows and features alike, but for a small weight of what lies between them.
    """
    weight = known.astype(float)
    flow = np.where(known, y, 0.0)
    base = np.where(known, common, 0.0) if common is not None else None
    count, width = y.shape[1], features.shape[1]
    effects = width + (common is not None)
    gram = np.zeros((count, effects, effects))
    moment = np.zeros((count, effects))
    pairs = (features[:, :, None] * features[:, None, :]).reshape(len(features), -1)
    gram[:, :width, :width] = (weight.T @ pairs).reshape(count, width, width)
    moment[:, :width] = flow.T @ features
    if base is not None:
        gram[:, :width, width] = gram[:, width, :width] = base.T @ features
        gram[:, width, width] = (base**2).sum(axis=0)
        moment[:, width] = (base * flow).sum(axis=0)
    everywhere = np.arange(count)
    whole = _level_sums(weight, flow, base, features)
    _take_off(gram, moment, everywhere, whole, between)
    for level in range(int(part.max(initial=0)) + 1):
        mark = (part == level) & known
        there = np.flatnonzero(mark.any(axis=0))
        inside = mark[:, there]
        sums = _level_sums(
            inside.astype(float),
            np.where(inside, flow[:, there], 0.0),
            None if base is None else np.where(inside, base[:, there], 0.0),
            features,
        )
        _take_off(gram, moment, there, sums, 1 - between)
    gram += np.diag(penalties(width, common=common is not None))
    # Before a year is full, a season cannot be told from a level.
    waves = np.arange(DAY_FEATURES, width)
    young = len(known) - np.argmax(known, axis=0) <= _SEASON_NIGHTS
    gram[:, waves, waves] += np.where(young, _NEVER, 0.0)[:, None]
    solved: Reals = np.linalg.solve(gram, moment[:, :, None])[:, :, 0]
    return solved


def _level_sums(
    weight: Reals, flow: Reals, base: Reals | None, features: Reals
) -> tuple[Reals, Reals, Reals]:
    sums = weight.T @ features
    if base is not None:
        sums = np.column_stack([sums, base.sum(axis=0)])
    return weight.sum(axis=0), flow.sum(axis=0), sums


def _take_off(
    gram: Reals, moment: Reals, at: Ints, sums: tuple[Reals, Reals, Reals], share: float
) -> None:
    count, flow, features = sums
    over = share / np.maximum(count, 1.0)
    gram[at] -= over[:, None, None] * features[:, :, None] * features[:, None, :]
    moment[at] -= (over * flow)[:, None] * features


def others_movement(apart: Reals) -> Reals:
    """What the other places did on one night: mean of their middle half, each place left out.

    `apart` shape (places,): how far each lies from its own level, in its own noise; NaN where not
    known. With two others, the smaller of them where they agree in sign; with fewer, 0.
    """
    known = np.flatnonzero(np.isfinite(apart))
    moved = np.zeros(len(apart))
    others = len(known) - 1
    if others < 2:
        return moved
    order = known[np.argsort(apart[known], kind="stable")]
    values = apart[order]
    sums = np.concatenate([[0.0], np.cumsum(values)])
    rank = np.arange(len(order))
    if others == 2:
        low, high = values[[1, 0, 0]], values[[2, 2, 1]]
        both = np.where(low * high > 0, np.sign(low) * np.minimum(abs(low), abs(high)), 0.0)
        moved[order] = both
        return moved
    cut = max(1, others // 4)

    def below(count: int) -> Reals:
        taken: Reals = np.where(count <= rank, sums[count], sums[count + 1] - values)
        return taken

    moved[order] = (below(others - cut) - below(cut)) / (others - 2 * cut)
    return moved


def rhythm_l_s(features: Reals, common: Reals | None, effects: Reals) -> Reals:
    """What the effects make of some nights, L/s, shape (nights, places).

    Parameters as `fit_rhythm` takes and gives them, of the nights asked for.
    """
    width = features.shape[1]
    rhythm: Reals = features @ effects[:, :width].T
    if common is not None:
        rhythm = rhythm + common * effects[:, width]
    return rhythm
