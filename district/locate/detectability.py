"""The smallest leak that meters and loggers show on each pipe, and the walk it would take."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.expected_walk import sampled_by
from district.locate.listening import covariance, signs_of
from district.locate.outlook import Outlook, limits, over_leaks, walks
from district.locate.pooling import Wholes
from district.locate.shown import alarm_limit, errors_needed, independent_count
from district.night_noise import limit_for
from district.schema.columns import empty
from district.schema.located import DETECTABILITY, ZONE_REACH
from district.settings import Settings

REACH_L_S = (0.2, 0.5, 1.0, 3.0)
"""Sizes of leak that a zone's reach is told for."""
MOST_L_S = 100.0
"""A leak that only shows when larger is not shown: the model holds for changes, not for a burst
that empties the zone. Assumption."""
_LEAKS = 300
_ENDS = ("", "_low", "_high")


def detectability(zones: list[Outlook], *, settings: Settings) -> pd.DataFrame:
    """Table DETECTABILITY, in order of pipe_id.

    Shown means: the change test gives alarm within `settings.locate.nights_count` nights on
    average, at `settings.events.false_alarms_per_year`. By inflow it is the test of the zone's
    night leakage (`night_noise`). By pressure it is one test for each pipe, of all loggers together
    by what a leak there would do to them; the tests of a zone share the rate. The walk is for a
    leak of `settings.locate.leak_l_s`, readings of that many nights being at hand.
    """
    parts = [_of_zone(zone, settings) for zone in zones]
    if not parts:
        return empty(DETECTABILITY)
    table = pd.concat(parts, ignore_index=True)
    return table.sort_values("pipe_id", ignore_index=True)[list(DETECTABILITY.names())]


def zone_reach(zones: list[Outlook], *, settings: Settings) -> pd.DataFrame:
    """Table ZONE_REACH: for leaks of `REACH_L_S`, what share would be shown and the walk.

    Limits of the share come from those of `smallest_l_s`, taken low or high on all pipes together:
    noise that is larger than thought is so for the whole zone.
    """
    rows: list[dict[str, Any]] = []
    for zone in zones:
        expected = zone.leaks_per_year
        if expected.sum() <= 0:
            continue
        smallest = np.nan_to_num(_smallest(zone, settings)[0], nan=np.inf)
        leaks, weight = sampled_by(expected, _LEAKS)
        mains = float(zone.length_m.sum())
        for size in REACH_L_S:
            middle, easy, hard = (expected[s <= size].sum() / expected.sum() for s in smallest)
            walk = over_leaks(zone, leaks, weight, *walks(zone, size, leaks=leaks))
            rows.append(
                {
                    "cell_id": zone.cell_id,
                    "leak_l_s": size,
                    **{
                        f"shown_share{e}": x
                        for e, x in zip(_ENDS, (middle, hard, easy), strict=True)
                    },
                    **{f"walk_share{e}": x / mains for e, x in zip(_ENDS, walk, strict=True)},
                }
            )
    return pd.DataFrame(rows, columns=list(ZONE_REACH.names()))


def _of_zone(zone: Outlook, settings: Settings) -> pd.DataFrame:
    smallest, shown_by = _smallest(zone, settings)
    walked, drawn = walks(zone, settings.locate.leak_l_s)
    walk = (walked, *limits(zone, walked, np.log(drawn).std(axis=0)))
    mains = float(zone.length_m.sum())
    return pd.DataFrame(
        {
            "pipe_id": list(zone.pipe_id),
            "cell_id": zone.cell_id,
            **{f"smallest_l_s{end}": v for end, v in zip(_ENDS, smallest, strict=True)},
            "nights_count": settings.locate.nights_count,
            "shown_by": shown_by,
            "leak_l_s": settings.locate.leak_l_s,
            **{f"walk_m{end}": v for end, v in zip(_ENDS, walk, strict=True)},
            "walk_share": np.clip(walked / max(mains, 1e-9), 0.0, 1.0),
        }
    )


def _smallest(zone: Outlook, settings: Settings) -> tuple[Reals, Reals]:
    """The smallest leak (3, P): value and limits, NaN where none is shown; and by what (P)."""
    ways = np.stack([_by_inflow(zone, settings), _by_pressure(zone, settings)])
    ways[ways > MOST_L_S] = np.inf
    first = ways[:, 0].argmin(axis=0)
    smallest = ways.min(axis=0)
    shown = np.isfinite(smallest[0])
    names = np.where(shown, np.array(["inflow", "pressure"])[first], "")
    return np.where(shown, np.minimum(smallest, MOST_L_S), np.nan), names


def _by_inflow(zone: Outlook, settings: Settings) -> Reals:
    limit = limit_for(settings.events.false_alarms_per_year)
    error = np.array([zone.error_l_s, zone.error_l_s_low, zone.error_l_s_high])
    size = limit * np.nan_to_num(error, nan=np.inf)
    size = np.maximum(size, settings.events.smallest_l_s)
    return np.repeat(size[:, None], len(zone.pipe_id), axis=1)


def _by_pressure(zone: Outlook, settings: Settings) -> Reals:
    if zone.heard is None or not len(zone.heard.present()):
        return np.full((3, len(zone.pipe_id)), np.inf)
    none: Wholes = np.zeros(0, dtype=np.int64)
    signs = signs_of(zone.heard, covariance(zone.heard, 0.0), none, zone.heard.present())
    rate = settings.events.false_alarms_per_year
    count = independent_count(signs.middle.astype(float), rate)
    needed = errors_needed(settings.locate.nights_count, alarm_limit(rate, tests_count=count))
    with np.errstate(divide="ignore"):
        size = needed / np.sqrt((signs.middle.astype(float) ** 2).sum(axis=0))
        drawn = needed / np.sqrt((signs.drawn.astype(float) ** 2).sum(axis=1))
    felt = np.isfinite(drawn).all(axis=0) & np.isfinite(size)
    spread = np.zeros(len(size))
    spread[felt] = np.log(drawn[:, felt]).std(axis=0)
    wide = np.exp(1.96 * spread)
    return np.stack([size, size / wide, size * wide])
