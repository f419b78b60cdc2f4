"""Meters that show nothing, or one flow for ever: told from houses where nobody is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.detect.unbroken import each
from district.settings import Holiday

DEAD_DAYS = 14
"""Silence a meter may keep while others of its building go on (common practice, no source)."""
ALONE_DAYS = 28
"""Silence of one that has no such company, or never showed flow: people go away for three weeks
(common practice, no source)."""
_TIMES_BEFORE = 2.0
"""A silence no longer than twice the longest before it is the building's own way (no source)."""
STUCK_H = 24.0
_TOGETHER = 3
_TOGETHER_SHARE = 0.5


def silent(
    rows: pd.DataFrame,
    own: pd.DataFrame,
    *,
    works: pd.DataFrame,
    holidays: Sequence[Holiday],
    zone: ZoneInfo,
) -> pd.DataFrame:
    """Meters that show nothing now, for 14 days or more, indexed by device.

    `rows` and `own` as `standing` gives them; `works` the input table (UTC). A silence counts as
    death where it lasts 14 days while other meters of the building go on, or 28 days, and is more
    than twice as long as any before; without the days on which premises stood empty or people
    were away by the records, and not where no other meter of the building shows flow either.

    Columns: idle_days, left_days (without those on record), before_days (longest silence before),
    lived (it showed flow before), others (how many meters of the same building), others_live
    (of them, how many showed flow since), together (how many of its zone fell silent that day,
    if half of them did), dead.
    """
    quiet = own[(own["idle_h"] >= 24.0 * DEAD_DAYS) & (own["run_h"] == 0)].copy()
    if quiet.empty:
        names = ("idle_days", "left_days", "before_days", "lived", "others", "others_live")
        return pd.DataFrame(columns=[*names, "together", "dead"])
    mine = rows[rows["device_id"].isin(quiet.index)]
    earlier = mine[mine["day"] < each(mine, quiet["idle_since"])]
    before = (earlier.groupby("device_id")["idle_h"].max() / 24.0).reindex(quiet.index)
    flowed = rows[rows["still_count"] < rows["hours_count"]].groupby("device_id")["day"].max()
    last_flow = flowed.reindex(own.index)
    away = [(h.first, h.last or h.first) for h in holidays]
    gone = _recorded(works, zone)
    groups = own.reset_index(drop=True).groupby("building_id").groups
    members = {name: at.to_numpy() for name, at in groups.items() if name}
    flow_days = last_flow.to_numpy(dtype="datetime64[D]")
    position = own.index.get_indexer(quiet.index)
    found = []
    for at, row in zip(position, quiet.to_dict("records"), strict=True):
        since, last = (np.datetime64(row[name], "D") for name in ("idle_since", "last"))
        days = np.arange(since, last + 1)
        told = np.zeros(len(days), dtype=bool)
        known = [gone.get(row[name], []) for name in ("meter_id", "building_id")]
        for first, end in [*away, *known[0], *known[1]]:
            told |= (days >= np.datetime64(first)) & (days <= np.datetime64(end))
        others = members.get(row["building_id"], position[:0])
        others = others[others != at]
        found.append(
            {
                "idle_days": len(days),
                "left_days": int((~told).sum()),
                "others": len(others),
                # Beyond the first day: what passed before the silence is no sign of life.
                "others_live": int((flow_days[others] > since + 1).sum()),
            }
        )
    table = pd.DataFrame(found, index=quiet.index).assign(
        before_days=before.fillna(0.0), lived=last_flow[quiet.index].notna()
    )
    table["together"] = _together(quiet, own)
    alone = (table["others"] > 0) & (table["others_live"] == 0)
    longer = table["left_days"] > _TIMES_BEFORE * table["before_days"]
    told = table["lived"] & (table["others_live"] > 0)
    enough = table["left_days"] >= np.where(told, DEAD_DAYS, ALONE_DAYS)
    return table.assign(dead=enough & longer & ~alone)


def stuck(still: pd.DataFrame, own: pd.DataFrame) -> pd.Series:
    """Hours at one flow, up to the last day read, of meters stuck for a day or more; by device.

    `still` is table STILL_DAYS: the hours set aside as stuck while the readings were taken in.
    """
    rows = still[still["device_id"].isin(own.index)].sort_values(["device_id", "day"])
    loose = (rows["stuck_h"] <= rows["hours_count"]).astype(int)
    since = loose[::-1].groupby(rows["device_id"][::-1]).cumsum()[::-1]
    hours = rows["stuck_h"][since == 0].groupby(rows["device_id"]).sum()
    return hours[hours >= STUCK_H]


def _recorded(works: pd.DataFrame, zone: ZoneInfo) -> dict[str, list[tuple[date, date]]]:
    """Local dates on which premises stood empty, by the place named."""
    spans: dict[str, list[tuple[date, date]]] = {}
    told = works[(works["kind"] == "empty") & works["start"].notna()]
    for place, start, end in zip(told["place_id"], told["start"], told["end"], strict=True):
        first = pd.to_datetime(start, utc=True).tz_convert(zone).date()
        last = first if pd.isna(end) else pd.to_datetime(end, utc=True).tz_convert(zone).date()
        spans.setdefault(str(place), []).append((first, last))
    return spans


def _together(quiet: pd.DataFrame, own: pd.DataFrame) -> pd.Series:
    """How many meters of its zone fell silent on the same day, 0 where fewer than half did."""
    key = [quiet["cell_id"], quiet["idle_since"]]
    count = quiet.groupby(key)["last"].transform("size")
    of_zone = quiet["cell_id"].map(own.groupby("cell_id").size())
    many = (count >= _TOGETHER) & (count >= _TOGETHER_SHARE * of_zone)
    return count.where(many & quiet["idle_known"].astype(bool), 0)
