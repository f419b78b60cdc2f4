"""What nights have in common whatever leaks: weekday, season, holidays and other zones' movement.

How large each effect is, the filter learns (`filter`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from district.detect.baseline import Reals

DAYS_YEAR = 365.2425
_DAYS = 7
_VACATION_DAYS = 4
DAY_FEATURES = _DAYS + 2
_WAVES = 2


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
