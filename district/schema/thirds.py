"""The calendar by which readings are cleaned and kept: thirds of months, UTC.

A third begins on the 1st, the 11th and the 21st of a month. Its first two days are told apart
from its rest (two bins a third), since they also tell of the third before what its last readings
were worth. Thirds are numbered from January 1970, bins likewise.
"""

from __future__ import annotations

from typing import Any

import numpy as np

DAY_US = 86_400_000_000
HEAD_DAYS = 2
"""The days of a third that the cleaning of the third before looks ahead to."""
_LENGTH = 10
_MOST_BINS = 60_000
"""More than there are from 1970 to any time that counts."""
Whole = np.ndarray[Any, np.dtype[np.int64]]
Marks = np.ndarray[Any, np.dtype[np.uint64]]


def bins_of(time_us: Whole) -> Whole:
    """The bin of each instant (µs since 1970, UTC).

    >>> bins_of(np.array([0, 2 * DAY_US, 10 * DAY_US, 31 * DAY_US])).tolist()
    [0, 1, 2, 6]
    """
    if len(time_us) == 0:
        return np.zeros(0, dtype=np.int64)
    day = time_us // DAY_US
    first, last = int(day.min()), int(day.max())
    days = np.arange(first, last + 1)
    dates = days.astype("datetime64[D]")
    month = dates.astype("datetime64[M]")
    of_month = (dates - month.astype("datetime64[D]")).astype(np.int64)
    third = np.minimum(of_month // _LENGTH, 2)
    bins = 2 * (3 * month.astype(np.int64) + third) + (of_month - _LENGTH * third >= HEAD_DAYS)
    return np.asarray(bins[day - first])


def third_start_us(third: int) -> int:
    """When a third begins, µs since 1970, UTC.

    >>> third_start_us(1) // DAY_US
    10
    """
    month = np.datetime64(int(third) // 3, "M").astype("datetime64[D]").astype(np.int64)
    return (int(month) + _LENGTH * (int(third) % 3)) * DAY_US


def month_of(third: int) -> str:
    """The month a third lies in, as YYYY-MM.

    >>> month_of(3 * 12 * 55 + 4)
    '2025-02'
    """
    return str(np.datetime64(int(third) // 3, "M"))


def months_of(first_us: int, last_us: int) -> list[str]:
    """Every month (UTC) from one instant to another, both included, as YYYY-MM."""
    ends = np.array([first_us, last_us]).astype("datetime64[us]").astype("datetime64[M]")
    return [str(m) for m in np.arange(ends[0], ends[1] + 1)]


def month_span_us(month: str) -> tuple[int, int]:
    """When a month YYYY-MM begins and when the next does, µs since 1970, UTC."""
    first = np.datetime64(month, "M")
    days = np.array([first, first + 1]).astype("datetime64[D]").astype(np.int64)
    return int(days[0]) * DAY_US, int(days[1]) * DAY_US


def counted(
    device: Whole, early_us: Whole, late_us: Whole, marks: Marks | None = None
) -> tuple[Whole, Whole, Whole, Whole, Whole, Marks]:
    """How many readings each device has in each bin: device, bin, count, first and last time.

    `device` numbers the device of each reading; a reading whose time may be one of two (an hour
    that comes twice) counts in the bins of both. Last comes the sum of the readings' `marks`.
    """
    each = np.zeros(len(device), dtype=np.uint64) if marks is None else marks
    again = bins_of(late_us) != bins_of(early_us)
    device = np.append(device, device[again]).astype(np.int64)
    time_us = np.append(early_us, late_us[again])
    each = np.append(each, each[again])
    where = device * _MOST_BINS + bins_of(time_us)
    places, at, counts = np.unique(where, return_inverse=True, return_counts=True)
    first = np.full(len(places), np.iinfo(np.int64).max)
    last = np.full(len(places), np.iinfo(np.int64).min)
    summed = np.zeros(len(places), dtype=np.uint64)
    np.add.at(summed, at, each)
    np.minimum.at(first, at, time_us)
    np.maximum.at(last, at, time_us)
    device, bins = places // _MOST_BINS, places % _MOST_BINS
    return device, bins, counts.astype(np.int64), first, last, summed
