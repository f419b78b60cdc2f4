"""Works on record: nights that the change test leaves out, what they show, and changed meters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.detect.baseline import Reals
from district.detect.course import Alarm
from district.detect.recorded import USE_KINDS, Work

_NIGHTS_BEFORE = 14
_CLEAR = 4.0
"""A use shows where it stands so many standard errors out."""
_METER_SHARE = 0.04
"""Standard deviation by which a new meter reads otherwise than the old: common practice, no source.
"""


def used(
    works: Sequence[Work], places: Sequence[str], axis: pd.DatetimeIndex
) -> dict[str, list[tuple[int, int]]]:
    """First and last night of each use on record, as positions in `axis`, by place touched."""
    spans: dict[str, list[tuple[int, int]]] = {}
    known = set(places)
    for work in works:
        if work.kind not in USE_KINDS or not len(axis):
            continue
        first, last = ((day - axis[0]).days for day in (work.first, work.last))
        if last < 0 or first >= len(axis):
            continue
        for place in sorted(work.places & known):
            spans.setdefault(place, []).append((max(0, first), min(last, len(axis) - 1)))
    return {place: sorted(own) for place, own in spans.items()}


def meter_jumps_l_s(
    works: Sequence[Work], places: Sequence[str], axis: pd.DatetimeIndex, flow_l_s: Reals
) -> Reals:
    """How far the level may change by a changed meter, as recorded; shape (nights, places).

    `flow_l_s` shape (nights, places). The night of the change and the one after it may be the first
    by the new meter; each is held against the nights before it only.
    """
    jump = np.zeros(flow_l_s.shape)
    at = {place: i for i, place in enumerate(places)}
    for work in works:
        if work.kind != "meter_change" or not len(axis):
            continue
        first, last = ((day - axis[0]).days for day in (work.first, work.last))
        nights = range(max(first, 0), min(last + 2, len(axis)))
        for place in sorted(work.places & set(at)):
            for night in nights:
                before = flow_l_s[max(0, night - _NIGHTS_BEFORE) : night, at[place]]
                if np.isfinite(before).any():
                    jump[night, at[place]] = _METER_SHARE * abs(float(np.nanmedian(before)))
    return jump


def with_uses(
    alarms: Sequence[Alarm],
    flow_l_s: Reals,
    *,
    sigma_l_s: float,
    spans: Sequence[tuple[int, int]],
) -> tuple[Alarm, ...]:
    """The alarms, with a rise and a fall for each use on record that clearly drew water.

    Parameters: `flow_l_s` shape (nights,), NaN where a night is missing, the nights of the uses
    included; `spans` as `used` gives them. One night by itself is no lasting change.
    """
    known = np.isfinite(flow_l_s)
    found = list(alarms)
    for first, last in spans:
        during = flow_l_s[first : last + 1][known[first : last + 1]]
        before = flow_l_s[:first][known[:first]][-_NIGHTS_BEFORE:]
        if len(during) < 2 or not len(before):
            continue
        rise = float(np.median(during) - np.median(before))
        if rise <= _CLEAR * sigma_l_s * np.sqrt(1 / len(during) + 1 / len(before)):
            continue
        start = first + int(np.argmax(known[first:]))
        found.append(Alarm(start, min(start + 1, last), rise=True))
        if known[last + 1 :].any():
            end = last + 1 + int(np.argmax(known[last + 1 :]))
            found.append(Alarm(end, end, rise=False))
    return tuple(sorted(found, key=lambda a: (a.position, a.detected)))
