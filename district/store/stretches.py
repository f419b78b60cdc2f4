"""The months of local dates, or thirds of them, by which reductions are made and kept."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import groupby
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.store.manifest import KeptPart, Manifest, parts_between
from district.store.windows import day_windows, local_dates

_THIRD_DAYS = 10


@dataclass(frozen=True, eq=False)
class Stretch:
    """A local month, a third of one, or several months during which no reading ended.

    name
        its month as YYYY-MM, first and last month as YYYY-MM-YYYY-MM, or first date as YYYY-MM-DD.
    dates
        all its local dates, whatever part of them was read, so that its rows are made the same way
        when more is.
    parts
        the cleaned parts with readings on any of these, in order of group and time.
    """

    name: str
    dates: pd.DatetimeIndex
    parts: tuple[KeptPart, ...]


def stretches(manifest: Manifest, zone: ZoneInfo, *, large: Collection[str] = ()) -> list[Stretch]:
    """The local months that stored readings touch, oldest first.

    Months (YYYY-MM) that are `large` come in thirds, as cleaned readings are kept, so that a new
    day costs no more than its own; small ones whole, since each stretch costs something by itself.

    Months that are only passed over by long intervals, as after a reading dated 1970, are one
    stretch: they hold next to nothing. What a stretch's rows rest on is in its parts, whatever
    came before or after: an interval belongs to a date by what it covers of it, or by its middle.
    A part that begins where the dates end is none of them, or each new day would have the dates
    before made anew.
    """
    held = [p for p in manifest.parts if p.last_us >= p.first_us]
    if not held:
        return []
    held.sort(key=lambda p: (p.group, p.month, p.first_us, p.last_us, p.key))
    read = local_dates(min(p.first_us for p in held), max(p.last_us for p in held), zone)
    first, last = read[0].replace(day=1), read[-1] + pd.offsets.MonthEnd(0)
    dates = pd.date_range(first, last, freq="D", unit="us")
    months = dates.strftime("%Y-%m").to_numpy()
    ends = {p.month for p in held}
    found = []
    # Alone by its own number, together with its neighbours where nothing ends.
    third = np.minimum((dates.day.to_numpy() - 1) // _THIRD_DAYS, 2).astype(str)
    third = np.where(np.isin(months, sorted(large)), third, "")
    alone = np.where(np.isin(months, sorted(ends)), np.char.add(months.astype(str), third), "")
    for _, group in groupby(range(len(dates)), key=lambda i: alone[i]):
        run = list(group)
        own = dates[run]
        windows = day_windows(own, zone)
        first_us, last_us = int(windows["start_us"].min()), int(windows["end_us"].max())
        parts = parts_between(held, first_us, last_us)
        if parts:
            names = sorted({own[0].strftime("%Y-%m"), own[-1].strftime("%Y-%m")})
            if third[run[0]]:
                names = [own[0].strftime("%Y-%m-%d")]
            found.append(Stretch("-".join(names), own, tuple(parts)))
    return found
