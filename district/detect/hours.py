"""Net inflow of zones by hour around changes: which days are wanted, netting, a dense grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.detect.changed import Changed
from district.detect.places import Place
from district.detect.runs import Run

BEFORE_DAYS = 56
"""Days before a change that tell the usual day ..."""
AFTER_DAYS = 28
"""... and days after it that tell the new one."""
MOST_CELL_DAYS = 150_000
"""Most days of zones that are asked for, those of the latest changes: 3.6 million hours. An
earlier change is named without its hours."""
_COLUMNS = ["cell_id", "day", "hour", "flow_l_s"]


def hours_wanted(changed: Changed) -> pd.DataFrame:
    """Which local days of which zones naming the changes would rest on: cell_id, day; sorted.

    Of a changed zone, of those that a meter joins to it, and of one that fell by as much, the
    eight weeks before a change and
    four weeks of it: the first after a step, the last of a growing flow.
    """
    zones = [(place, run) for place, run in changed.runs if place.kind == "zone"]
    zones.sort(key=lambda found: (-found[1].position, found[0].place_id))
    near = metered_neighbours(changed)
    asked: list[pd.DataFrame] = []
    count = 0
    for place, run in zones:
        before, after = days_of(place, run)
        days = changed.axis[np.unique(np.concatenate([before, after]))]
        cells = [place.cell_id, *beside_of(changed, place, run, near)]
        count += len(days) * len(cells)
        if count > MOST_CELL_DAYS:
            break
        asked += [pd.DataFrame({"cell_id": cell, "day": days}) for cell in cells]
    if not asked:
        return pd.DataFrame({"cell_id": pd.Series(dtype=object), "day": changed.axis[:0]})
    wanted = pd.concat(asked, ignore_index=True).drop_duplicates()
    return wanted.sort_values(["cell_id", "day"], ignore_index=True)


def metered_neighbours(changed: Changed) -> dict[str, tuple[str, ...]]:
    """Zones that a meter joins to each zone."""
    near: dict[str, list[str]] = {}
    for pair, what in changed.touching.items():
        if any(w.startswith("meter ") for w in what):
            one, other = sorted(pair)
            near.setdefault(one, []).append(other)
            near.setdefault(other, []).append(one)
    return {cell: tuple(sorted(others)) for cell, others in near.items()}


def beside_of(
    changed: Changed, place: Place, run: Run, metered: dict[str, tuple[str, ...]]
) -> tuple[str, ...]:
    """Other zones whose hours tell of a run: those joined by a meter (`metered_neighbours`), and
    the one in which a fall cancels it."""
    partner = changed.partners.get((place.place_id, run.position))
    joined = metered.get(place.cell_id, ())
    return joined if partner is None or partner[0] in joined else (*joined, partner[0])


def days_of(place: Place, run: Run) -> tuple[Any, Any]:
    """Positions of the days before and after the start of a run.

    The day before the first changed night is left out, as the change may lie within it, and so is
    all that lies between the limits of the start, and what came before an earlier change.
    """
    earlier = [c.position for c in place.changes if c.position < run.low - 7]
    first = max([run.low - 1 - BEFORE_DAYS, 0, *earlier[-1:]])
    before = np.arange(first, max(run.low - 1, first))
    last = len(place.flow_l_s) - 1 if run.last is None else run.last
    begin = min(run.high, last)
    if run.growth_l_s_d > 0:
        after = np.arange(max(begin, last - AFTER_DAYS + 1), last + 1)
    else:
        after = np.arange(begin, min(begin + AFTER_DAYS, last + 1))
    # The flow may go back on the day of its last night.
    return before, after[:-1] if run.last is not None and len(after) > 2 else after


def net_hours(flows: pd.DataFrame, edges: pd.DataFrame) -> pd.DataFrame:
    """Net inflow of each cell by local day and hour: cell_id, day, hour, flow_l_s.

    Parameters: `flows` table HOURLY_FLOWS of zone meters and tanks, `edges` their meter_id,
    upstream_cell_id and downstream_cell_id. An hour in which one of a cell's meters has no row is
    left out.
    """
    sides = pd.concat(
        [
            pd.DataFrame({"device_id": edges["meter_id"], "cell_id": edges[side], "sign": sign})
            for side, sign in (("downstream_cell_id", 1.0), ("upstream_cell_id", -1.0))
        ]
    )
    sides = sides[sides["cell_id"] != ""]
    meters_count = sides.groupby("cell_id").size()
    rows = flows[["device_id", "day", "hour", "flow_l_s"]].merge(sides, on="device_id")
    rows["flow_l_s"] *= rows.pop("sign")
    by_hour = rows.groupby(["cell_id", "day", "hour"], sort=True)["flow_l_s"].agg(["sum", "size"])
    found = by_hour.reset_index().rename(columns={"sum": "flow_l_s"})
    whole = found["size"] == found["cell_id"].map(meters_count)
    return found.loc[whole, _COLUMNS].reset_index(drop=True)


@dataclass(frozen=True, eq=False)
class Hours:
    """Net inflow as a grid."""

    row: dict[str, int]
    """Row of each zone."""
    flow_l_s: np.ndarray[Any, np.dtype[np.float32]]
    """Shape (zones, days of the common nights, 24), NaN where it is not known."""


def gridded(hourly: pd.DataFrame | None, axis: pd.DatetimeIndex) -> Hours:
    """Table of net inflow (cell_id, day, hour, flow_l_s) as a grid over the common nights."""
    if hourly is None or hourly.empty or not len(axis):
        return Hours({}, np.zeros((0, len(axis), 24), dtype=np.float32))
    cells = pd.Categorical(hourly["cell_id"])
    day = (pd.to_datetime(hourly["day"]) - axis[0]).dt.days.to_numpy()
    inside = (day >= 0) & (day < len(axis))
    grid = np.full((len(cells.categories), len(axis), 24), np.nan, dtype=np.float32)
    hour = hourly["hour"].to_numpy(dtype=int)
    grid[cells.codes[inside], day[inside], hour[inside]] = hourly["flow_l_s"].to_numpy()[inside]
    return Hours({str(c): i for i, c in enumerate(cells.categories)}, grid)
