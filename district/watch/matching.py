"""Which alarm of today is one that was told before, though its start or size was revised."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

NEAR_NIGHTS = 7
"""Starts whose limits lie this close are one start, revised as more nights came in."""
FAR_NIGHTS = 30
"""So is a start this far off, where both are open and of like size: the only ones left there."""
AGAIN_NIGHTS = 14
"""What begins again this soon after its end never really ended."""
_BY_PLACE = ("device", "sensor", "repair")
"""Families with one alarm a place at a time."""


def matched(before: pd.DataFrame, now: pd.DataFrame) -> dict[int, int]:
    """Position in `now` -> position in `before` of the same alarm (both table TOLD).

    Each of either is used once, the nearest starts first; an alarm of another place or family is
    never the same. Neither is changed.
    """
    if before.empty or now.empty:
        return {}
    pairs = _side(before, "old").merge(_side(now, "new"), on="match")
    gap = _gap_nights(pairs)
    both_open = ~pairs["over_old"] & ~pairs["over_new"]
    by_place = pairs["match"].str.split("|", n=1).str[0].isin(_BY_PLACE)
    by_place |= (pairs["about_old"] == "building") | (pairs["about_new"] == "building")
    since_end = (pairs["start_new"] - pairs["end_old"]).dt.days
    again = pairs["over_old"] & ~pairs["over_new"] & by_place & (since_end <= AGAIN_NIGHTS)
    again &= since_end >= 0
    cost = pd.Series(np.inf, index=pairs.index)
    cost[again] = 3e4
    cost[both_open & (gap <= FAR_NIGHTS) & _like_size(pairs)] = 2e4
    cost[both_open & by_place] = 1e4
    cost[gap <= NEAR_NIGHTS] = 0.0
    allowed = pairs.assign(cost=cost + gap.fillna(0.0))[np.isfinite(cost)]
    # Of equal ones the starts themselves, then the order of the tables: always the same pairs.
    apart = (allowed["start_new"] - allowed["start_old"]).abs().dt.days.fillna(0)
    allowed = allowed.assign(apart=apart)
    ordered = allowed.sort_values(["cost", "apart", "at_old", "at_new"], kind="stable")
    found: dict[int, int] = {}
    used: set[int] = set()
    for old, new in zip(ordered["at_old"].tolist(), ordered["at_new"].tolist(), strict=True):
        if new not in found and old not in used:
            found[new] = old
            used.add(old)
    return found


def _side(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    columns = ["about", "start", "start_low", "start_high", "end", "over"]
    sizes = ["size_l_s", "size_l_s_low", "size_l_s_high"]
    part = frame[[*columns, *sizes]].reset_index(drop=True).add_suffix(f"_{name}")
    return part.assign(**{"match": frame["match"].to_numpy(), f"at_{name}": np.arange(len(frame))})


def _gap_nights(pairs: pd.DataFrame) -> pd.Series[Any]:
    """Nights between the limits of the two starts, 0 where they overlap, NaN without a start."""
    low, high = {}, {}
    for side in ("old", "new"):
        start = pairs[f"start_{side}"]
        low[side] = pairs[f"start_low_{side}"].fillna(start)
        high[side] = pairs[f"start_high_{side}"].fillna(start)
    after = (low["new"] - high["old"]).dt.days
    before = (low["old"] - high["new"]).dt.days
    return pd.concat([after, before], axis=1).max(axis=1, skipna=False).clip(lower=0)


def _like_size(pairs: pd.DataFrame) -> pd.Series[Any]:
    """Whether the limits of the two flows overlap, or one has none."""
    apart = (pairs["size_l_s_low_new"] > pairs["size_l_s_high_old"]) | (
        pairs["size_l_s_low_old"] > pairs["size_l_s_high_new"]
    )
    return ~apart
