"""What disturbs the nights of a zone and is no leak: short uses, changed meters, lost readings.

How often is what people who look after such zones would call ordinary: common practice, no
source; lost nights as in the ten areas named in `night_trial_course` (about 10 % of the nights,
most in spells of one to four that several areas share).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.schema.columns import empty
from district.schema.inputs import WORKS
from district.simulate.night_trial_course import Values

FILLINGS_A_YEAR, FLUSHINGS_A_YEAR, SWAPS_A_YEAR = 0.5, 1.5, 0.15
RECORDED_SHARE = {"planned_use": 0.7, "flushing": 0.8}
_YEAR_D = 365.25
_MAY_TO_JULY = (121, 200)


def draw_uses(
    rng: np.random.Generator, nights: pd.DatetimeIndex, zones: Sequence[str], level_l_s: Values
) -> pd.DataFrame:
    """Fillings of pools and flushings: zone_id, kind, first and last (positions), flow_l_s,
    recorded."""
    years = len(nights) / _YEAR_D
    rows = []
    for zone, level in zip(zones, level_l_s, strict=True):
        for kind, rate in (("planned_use", FILLINGS_A_YEAR), ("flushing", FLUSHINGS_A_YEAR)):
            for _ in range(rng.poisson(rate * years)):
                longest = 3 if kind == "planned_use" else 2
                first = _when(rng, nights, kind)
                last = min(first + int(rng.integers(0, longest)), len(nights) - 1)
                flow = min(float(rng.uniform(0.4, 3.0)), 1.0 * level)
                told = rng.random() < RECORDED_SHARE[kind]
                rows.append((zone, kind, first, last, flow, bool(told)))
    columns = ["zone_id", "kind", "first", "last", "flow_l_s", "recorded"]
    return pd.DataFrame(rows, columns=columns)


def _when(rng: np.random.Generator, nights: pd.DatetimeIndex, kind: str) -> int:
    if kind == "flushing":
        return int(rng.integers(0, len(nights)))
    doy = nights.day_of_year.to_numpy()
    season = np.flatnonzero((doy >= _MAY_TO_JULY[0]) & (doy <= _MAY_TO_JULY[1]))
    return int(rng.choice(season))


def draw_swaps(rng: np.random.Generator, nights_count: int, zones: Sequence[str]) -> pd.DataFrame:
    """Changed meters: zone_id, first (position of the first night read by the new one), share
    (reads so much more than the old one)."""
    rows = [
        (zone, int(rng.integers(30, nights_count)), float(rng.normal(0.015, 0.02)))
        for zone in zones
        for _ in range(rng.poisson(SWAPS_A_YEAR * nights_count / _YEAR_D))
    ]
    return pd.DataFrame(rows, columns=["zone_id", "first", "share"])


def draw_missing(
    rng: np.random.Generator, zones_count: int, nights_count: int
) -> NDArray[np.bool_]:
    """Nights without a figure, shape (zones, nights): lone ones, spells of all zones, weeks."""
    missing = rng.random((zones_count, nights_count)) < 0.02
    for _ in range(rng.poisson(10.0 * nights_count / _YEAR_D)):
        first = int(rng.integers(0, nights_count))
        touched = rng.random(zones_count) < 0.8
        missing[touched, first : first + int(rng.integers(1, 5))] = True
    for zone in range(zones_count):
        for _ in range(rng.poisson(0.6 * nights_count / _YEAR_D)):
            first = int(rng.integers(0, nights_count))
            missing[zone, first : first + int(rng.integers(7, 22))] = True
    return np.asarray(missing)


def works_table(
    nights: pd.DatetimeIndex, uses: pd.DataFrame, swaps: pd.DataFrame, meters: dict[str, str]
) -> pd.DataFrame:
    """The recorded uses and changed meters as table WORKS, times in UTC (the district's clock).

    A use lasts from shortly after midnight of its first night to the morning of its last; a meter
    is changed in the morning before the first night that it reads. `meters` names each zone's.
    """
    hour = pd.Timedelta(hours=1)
    rows = [
        (nights[u.first] + 0.5 * hour, nights[u.last] + 6 * hour, u.kind, u.zone_id)
        for u in uses[uses["recorded"].astype(bool)].itertuples()
    ]
    rows += [
        (
            nights[s.first - 1] + 9 * hour,
            nights[s.first - 1] + 11 * hour,
            "meter_change",
            meters[s.zone_id],
        )
        for s in swaps.itertuples()
    ]
    if not rows:
        return empty(WORKS)
    frame = pd.DataFrame(rows, columns=["start", "end", "kind", "place_id"])
    for name in ("start", "end"):
        frame[name] = pd.to_datetime(frame[name]).dt.tz_localize("UTC")
    frame = frame.sort_values(["start", "place_id", "kind"], ignore_index=True)
    return frame.assign(note="")
