"""Readings years away from all others of their device: a logger that lost its clock."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.devices import Device
from district.intake.grouped import by_row
from district.intake.parse import ReadingFile
from district.intake.rows import Rows

_FAR_US = 400 * 86_400_000_000
"""A meter read once a year comes this late, but hardly later."""
_HALF_DAY_US = 43_200_000_000
_STEPS = 20
_FEW_SHARE = 0.1
Array = np.ndarray[Any, Any]


def strays(time_us: Array) -> Array:
    """Which times of one device, in order, lie far from most others.

    Far is a gap of 400 days and of 20 usual steps; few is a tenth of the largest group without
    such a gap.

    >>> day = 86_400_000_000
    >>> strays(np.array([0, *range(9000 * day, 9030 * day, day)])).nonzero()[0].tolist()
    [0]
    """
    if len(time_us) < 3:
        return np.zeros(len(time_us), dtype=bool)
    step = np.diff(time_us)
    gap = step > max(_FAR_US, _STEPS * float(np.median(step)))
    group = np.concatenate([[0], np.cumsum(gap)])
    size = np.bincount(group)
    return np.asarray((size <= _FEW_SHARE * size.max())[group], dtype=bool)


def stray_bins(presence: pd.DataFrame) -> Array:
    """Which rows of table PRESENCE, in order of device and bin, hold strays alone.

    As `strays`, but by bins: a gap of 400 days never lies within one. The usual step is the
    median over the bins of their mean steps.
    """
    device = presence["device_id"].cat.codes.to_numpy()
    first, last = presence["first_us"].to_numpy(), presence["last_us"].to_numpy()
    same = np.diff(device) == 0
    gap_us = np.where(same, first[1:] - last[:-1], 0)
    found = np.zeros(len(device), dtype=bool)
    for one in np.unique(device[1:][gap_us > _FAR_US]):
        at = slice(*np.searchsorted(device, [one, one + 1]))
        counts = presence["rows_count"].to_numpy()[at]
        if counts.sum() < 3:
            continue
        inner = counts > 1
        steps = ((last - first)[at][inner] / (counts[inner] - 1)) if inner.any() else np.zeros(1)
        gap = (first[at][1:] - last[at][:-1]) > max(_FAR_US, _STEPS * float(np.median(steps)))
        group = np.concatenate([[0], np.cumsum(gap)])
        size = np.bincount(group, weights=counts)
        found[at] = (size <= _FEW_SHARE * size.max())[group]
    return found


def whole_record(rows: Rows) -> Array:
    """Which rows, in order of device and time, are strays, where all of a device's are there."""
    stray = np.zeros(len(rows.device), dtype=bool)
    step = np.diff(rows.time_us)
    wide = (np.diff(rows.device) == 0) & (step > _FAR_US)
    for one in np.unique(rows.device[1:][wide]):
        part = slice(*np.searchsorted(rows.device, [one, one + 1]))
        stray[part] = strays(rows.time_us[part])
    return stray


def told(
    rows: Rows, stray: Array, files: Sequence[ReadingFile], devices: Sequence[Device]
) -> list[Finding]:
    """A finding for each file of the rows that are strays."""
    found: list[Finding] = []
    for file in np.unique(rows.file[stray]):
        at = np.flatnonzero(stray & (rows.file == file))
        at = at[np.argsort(rows.row[at], kind="stable")]
        # The nearest midnight UTC: the clock the file was written by is not known here.
        near = rows.time_us[at] + _HALF_DAY_US
        days = near.astype("datetime64[us]").astype("datetime64[D]")
        found += by_row(
            "warning",
            files[file].name,
            column="",
            rows=[int(r) for r in rows.row[at]],
            got=[
                f"{devices[d].device_id} on {day}"
                for d, day in zip(rows.device[at], days, strict=True)
            ],
            expected="a time near the other readings of the device",
            remedy="Correct the time, or set the logger's clock; the reading is left out",
        )
    return found
