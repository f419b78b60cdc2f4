"""What users whose meters are read by the day did around a rise of their zone.

A user metered through the night is taken off a zone's leakage already; one who is read once a day
is not, nor one without a meter.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.detect.changed import Changed
from district.detect.evidence import Evidence
from district.network import Network
from district.units import M3_PER_L_S_H
from district.words import brief

WINDOW_DAYS = 14
"""Days before and after a rise that a user's means are taken over."""
FEWEST_DAYS = 5
_CLEARLY = 3.0  # standard errors
_WORTH = 0.25  # of the rise: a smaller change of one user does not account for it
_LOG = 3.5  # common practice, no source
_DAY_H = 24.0


def daily_evidence(
    changed: Changed, daily_volumes: pd.DataFrame | None, *, network: Network
) -> dict[tuple[str, int], tuple[Evidence, ...]]:
    """Evidence by zone and position of each run during which a user began to draw more by the day.

    `daily_volumes` table DAILY_VOLUMES of the users not read through the night; None or empty
    gives none.
    """
    if daily_volumes is None or daily_volumes.empty:
        return {}
    taps = network.connections[["meter_id", "cell_id"]].fillna("").astype(str)
    cell_of = dict(zip(taps["meter_id"], taps["cell_id"], strict=True))
    rows = daily_volumes[daily_volumes["device_id"].isin([m for m in cell_of if m])]
    rows = rows[(rows["coverage_share"] > 0.9) & (rows["spread_share"] < 0.1)]
    zones = [(p, r) for p, r in changed.runs if p.kind == "zone"]
    touched = {p.place_id for p, _ in zones}
    rows = rows.assign(cell_id=rows["device_id"].map(cell_of))
    rows = rows[rows["cell_id"].isin(touched)]
    if rows.empty:
        return {}
    by_cell = {
        str(cell): own.pivot_table(index="day", columns="device_id", values="volume_m3")
        for cell, own in rows.groupby("cell_id", observed=True)
    }
    found = {}
    for place, run in zones:
        volumes = by_cell.get(place.place_id)
        if volumes is None:
            continue
        days = changed.axis
        before = volumes.reindex(days[max(0, run.low - 1 - WINDOW_DAYS) : max(run.low - 1, 0)])
        last = len(days) - 1 if run.last is None else run.last
        after = volumes.reindex(days[run.high : min(run.high + WINDOW_DAYS, last + 1)])
        seen = _seen(before, after, size_l_s=run.size_l_s() + run.fell_l_s)
        if seen:
            found[place.place_id, run.position] = tuple(seen)
    return found


def _seen(before: pd.DataFrame, after: pd.DataFrame, *, size_l_s: float) -> Sequence[Evidence]:
    rise: Any = after.mean() - before.mean()
    error = np.sqrt(before.var() / before.count() + after.var() / after.count())
    enough = (before.count() >= FEWEST_DAYS) & (after.count() >= min(FEWEST_DAYS, 3))
    worth = _WORTH * size_l_s * M3_PER_L_S_H * _DAY_H
    clear = rise[enough & (rise > _CLEARLY * error) & (rise >= worth)]
    if clear.empty:
        return []
    meter = str(clear.idxmax())
    text = f"meter {meter}, read by the day, rose by {brief(float(clear.max()))} m³ a day"
    return [Evidence(text, {"use": _LOG, "meter_fault": -1.0, "boundary": -1.0})]
