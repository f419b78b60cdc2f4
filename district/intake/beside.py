"""The second value of a reading: a rate beside a total, or the other of two travel times."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.grouped import by_row
from district.intake.transit import UNITS_S, difference_and_sum

OTHER_TIMES = tuple(f"{way}_{unit}" for unit in UNITS_S if unit != "us" for way in ("up", "down"))
"""Columns of travel times in other units than those of the schema."""
Array = np.ndarray[Any, Any]


def needed_columns(found: Mapping[str, str], said: Mapping[str, str]) -> tuple[str, ...]:
    """Columns a long file must have: a value, or else two travel times in one unit.

    `found` are our names of the columns it has, `said` those the settings name. Travel times
    count where the settings name them, or where there is no value.

    >>> needed_columns({"time": "t", "up_ns": "T1"}, {})
    ('device_id', 'time', 'up_ns', 'down_ns')
    """
    for names in (said, () if "value" in (*found, *said) else found):
        for unit in UNITS_S:
            pair = (f"up_{unit}", f"down_{unit}")
            if any(name in names for name in pair):
                return ("device_id", "time", *pair)
    return ("device_id", "time", "value")


def value_and_beside(
    needed: tuple[str, ...],
    names: Mapping[str, str],
    numbers_of: Callable[[str], Array],
    frame: pd.DataFrame,
    file: str,
    findings: list[Finding],
) -> tuple[Array, Array]:
    """The value of each row and what stands beside it, NaN where nothing does.

    `numbers_of` reads a column by our name. Of travel times these are their difference and their
    sum over their product, 1/s; a time that is not above zero is told and left out.
    """
    if needed[-1] == "value":
        value = numbers_of("value")
        return value, numbers_of("rate") if "rate" in names else np.full(len(value), np.nan)
    up, down = needed[-2:]
    seconds = UNITS_S[up.removeprefix("up_")]
    times = {name: numbers_of(name) for name in (up, down)}
    for name, read in times.items():
        bad = np.flatnonzero(read <= 0)
        findings += by_row(
            "warning",
            file,
            column=names[name],
            rows=[int(r) for r in frame.index[bad]],
            got=[f"{v:g}" for v in read[bad]],
            expected="a travel time above zero",
            remedy="Correct the value or leave it empty; the reading is left out",
        )
    return difference_and_sum(times[up] * seconds, times[down] * seconds)
