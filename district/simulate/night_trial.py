"""Districts of a few zones over two years of nights, with leaks known: to try the change test on.

The first year is there to learn from; leaks begin in the second.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.network import Network
from district.schema.columns import empty
from district.schema.outputs import NIGHTS
from district.settings import Events, Holiday, Settings
from district.simulate.night_trial_course import Courses, Values, draw_courses
from district.simulate.night_trial_map import row_of_zones
from district.simulate.night_trial_works import draw_missing, draw_swaps, draw_uses, works_table

NIGHTS_COUNT = 730
LEARNING_NIGHTS = 365
LEAKS = ("tenth", "one_sigma", "two_sigma", "three_sigma", "ramp")
"""Steps of a tenth of the night flow, of so many standard deviations of it; a ramp over 20 to 90
nights to between two and six of these."""
_LAST_NIGHTS = 100  # no leak begins later than this before the end
_BEFORE_NIGHTS = 28
_SMALLEST_L_S = 0.005  # below one standard deviation of the quietest zone


@dataclass(frozen=True, eq=False)
class NightTrial:
    """A district as `detect.find_events` takes it, and the truth behind it.

    network, nights, works, settings
        tables NIGHTS and WORKS; holidays are in the settings unless the district does not tell
        them. Nights that were lost are not in the table.
    truth
        one row a zone: cell_id; leak ('' or one of `LEAKS`); start (first night, NaT without) and
        position (of it in `axis`, -1 without), grown_count (nights from the start to full size, 1
        for a step), size_l_s (full size); level_l_s and sigma_l_s (robust standard deviation of the
        night flow about the zone's own curve of weekday, season and holidays).
    uses, swaps
        what else happened, recorded or not (`night_trial_works`).
    axis
        all nights; judged from `LEARNING_NIGHTS` on.
    """

    network: Network
    nights: pd.DataFrame
    works: pd.DataFrame
    settings: Settings
    truth: pd.DataFrame
    uses: pd.DataFrame
    swaps: pd.DataFrame
    axis: pd.DatetimeIndex


def draw_night_trial(seed: int) -> NightTrial:
    """Draw one district; the same for the same seed.

    Four of five have four to eight zones, half of which get a leak; every fifth is a single
    zone, with a leak in every second. Kinds of leak come in turn, so that each is as frequent.
    """
    rng = np.random.default_rng([20251117, seed])
    zones_count = 1 if seed % 5 == 4 else int(rng.integers(2, 5)) * 2
    zones = [f"Z{n:02d}" for n in range(1, zones_count + 1)]
    meters = {zone: f"M{n:02d}" for n, zone in enumerate(zones, 1)}
    first = pd.Timestamp("2022-01-01") + pd.Timedelta(days=int(rng.integers(0, 365)))
    axis = pd.date_range(first, periods=NIGHTS_COUNT, freq="D")
    holidays = _holidays(axis)
    courses = draw_courses(rng, axis, zones_count, _away(axis, holidays))
    uses = draw_uses(rng, axis, zones, courses.level_l_s)
    swaps = draw_swaps(rng, NIGHTS_COUNT, zones)
    truth = _leaks(rng, seed, zones, axis, courses)
    flow = courses.curve_l_s + courses.noise_l_s + _leaking(truth)
    for use in uses.itertuples():
        flow[zones.index(use.zone_id), use.first : use.last + 1] += use.flow_l_s
    for swap in swaps.itertuples():
        flow[zones.index(swap.zone_id), swap.first :] *= 1 + swap.share
    missing = draw_missing(rng, zones_count, NIGHTS_COUNT)
    told = rng.random() < 0.75
    return NightTrial(
        row_of_zones(zones, meters=[(meters[zone], "", zone) for zone in zones]),
        _nights(rng, zones, axis, np.maximum(flow, 0.0), missing, courses.level_l_s),
        works_table(axis, uses, swaps, meters),
        Settings(
            events=Events(smallest_l_s=_SMALLEST_L_S),
            holidays=tuple(holidays) if told else (),
        ),
        truth,
        uses,
        swaps,
        axis,
    )


def _holidays(axis: pd.DatetimeIndex) -> list[Holiday]:
    """Invented days off of each year: eight single ones, and two vacations."""
    found = []
    for year in sorted(set(axis.year)):
        single = ((1, 1), (2, 19), (4, 8), (5, 1), (6, 20), (9, 3), (10, 12), (11, 26))
        found += [Holiday(first=date(year, m, d), name="public holiday") for m, d in single]
        found.append(
            Holiday(first=date(year, 7, 25), last=date(year, 8, 18), name="summer vacation")
        )
        found.append(
            Holiday(first=date(year, 12, 22), last=date(year, 12, 31), name="winter vacation")
        )
    return found


def _away(axis: pd.DatetimeIndex, holidays: list[Holiday]) -> NDArray[np.bool_]:
    days = axis.date
    away = np.zeros((2, len(axis)), dtype=bool)
    for holiday in holidays:
        last = holiday.last or holiday.first
        away[int(last > holiday.first)] |= (days >= holiday.first) & (days <= last)
    return away


def _leaks(
    rng: np.random.Generator, seed: int, zones: list[str], axis: pd.DatetimeIndex, courses: Courses
) -> pd.DataFrame:
    count = len(zones)
    leaking = set(rng.permutation(count)[: count // 2].tolist())
    if count == 1 and seed // 5 % 2 == 0:
        leaking = {0}
    rows, turn = [], seed * 3
    for number, zone in enumerate(zones):
        level, sigma = float(courses.level_l_s[number]), float(courses.sigma_l_s[number])
        kind, position, grown, size = "", -1, 0, 0.0
        if number in leaking:
            kind, grown = LEAKS[turn % len(LEAKS)], 1
            turn += 1
            position = int(rng.integers(LEARNING_NIGHTS, len(axis) - _LAST_NIGHTS))
            before = courses.curve_l_s[number, position - _BEFORE_NIGHTS : position]
            if kind == "ramp":
                grown = int(rng.integers(20, 91))
                size = sigma * float(rng.uniform(2.0, 6.0))
            elif kind == "tenth":
                size = 0.1 * float(before.mean())
            else:
                size = sigma * (1 + ("one_sigma", "two_sigma", "three_sigma").index(kind))
        start = axis[position] if position >= 0 else pd.NaT
        rows.append((zone, kind, start, position, grown, size, level, sigma))
    return pd.DataFrame(
        rows,
        columns=[
            "cell_id",
            "leak",
            "start",
            "position",
            "grown_count",
            "size_l_s",
            "level_l_s",
            "sigma_l_s",
        ],
    )


def _leaking(truth: pd.DataFrame) -> Values:
    """What the leaks add, shape (zones, nights)."""
    night = np.arange(NIGHTS_COUNT)
    added = np.zeros((len(truth), NIGHTS_COUNT))
    for number, row in enumerate(truth.itertuples()):
        if row.position >= 0:
            grown = np.clip((night - row.position + 1) / row.grown_count, 0.0, 1.0)
            added[number] = row.size_l_s * grown
    return added


def _nights(
    rng: np.random.Generator,
    zones: list[str],
    axis: pd.DatetimeIndex,
    flow_l_s: Values,
    missing: NDArray[np.bool_],
    level_l_s: Values,
) -> pd.DataFrame:
    """Table NIGHTS; users' night use is allowed for, not measured."""
    use = level_l_s * rng.uniform(0.1, 0.6, len(zones))
    number, night = np.nonzero(~missing)
    flow = flow_l_s[number, night]
    leakage = flow - use[number]
    factor = rng.uniform(20.0, 24.0, len(zones))[number]
    frame = pd.DataFrame(
        {
            "cell_id": np.array(zones, dtype=object)[number],
            "night": axis[night],
            "status": "measured",
            "works": "",
        }
    )
    known = {
        "inflow_l_s": (flow, 0.02 * flow),
        "minimum_night_flow_l_s": (flow, 0.02 * flow),
        "measured_use_l_s": (0.0 * flow, 0.0 * flow),
        "allowed_use_l_s": (use[number], 0.2 * use[number]),
        "legitimate_use_l_s": (use[number], 0.2 * use[number]),
        "leakage_l_s": (leakage, np.hypot(0.02 * flow, 0.2 * use[number])),
        "night_day_factor_h_d": (factor, 0.5 + 0.0 * factor),
        "leakage_m3_d": (leakage * factor * 3.6, 0.1 * np.abs(leakage) * factor * 3.6),
    }
    for name, (value, half) in known.items():
        frame[name] = value
        frame[f"{name}_low"], frame[f"{name}_high"] = value - half, value + half
    blank = empty(NIGHTS)
    frame = frame.reindex(columns=blank.columns)
    numbers = [c for c in blank.columns if c not in ("cell_id", "night", "status", "works")]
    return frame.astype(dict.fromkeys(numbers, float))
