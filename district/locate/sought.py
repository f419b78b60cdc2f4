"""What is looked for in each zone: its open leaks, and its night flow above them."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.locate.spots import Sought
from district.schema.event_tables import MOVED_KINDS

LEAK_KINDS = ("leak", "growing_leak")
_FLOW = ["flow_l_s", "flow_l_s_low", "flow_l_s_high"]


def true_excess(zones: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Each zone's excess without what a meter or boundary only makes it seem.

    Parameters: `zones` table ZONES, `events` table EVENTS. Result: index cell_id; flow_l_s with
    limits. An open change of meter or boundary is taken off the zone that shows too much and
    added to the other zone, which shows too little.
    """
    moved = _summed(_moved(_open(events, MOVED_KINDS)))
    excess = zones.set_index("cell_id")[["excess_l_s", "excess_l_s_low", "excess_l_s_high"]]
    excess = excess.astype(float).set_axis(_FLOW, axis=1).rename_axis("cell_id")
    return _less(excess, moved.reindex(excess.index))


def sought_leaks(excess: pd.DataFrame, events: pd.DataFrame) -> tuple[Sought, ...]:
    """The leaks looked for, by zone: every open one on its own, then what is beyond them.

    Parameters: `excess` as `true_excess` gives it, `events` table EVENTS. What is beyond the open
    leaks of a zone is looked for where its lower limit is above 0; limits of flows that are added
    or taken off join in quadrature.
    """
    leaks = _open(events, LEAK_KINDS).sort_values("event_id", kind="stable")
    beyond = _less(excess, _summed(leaks).reindex(excess.index))
    clear = beyond[beyond["flow_l_s_low"] > 0]
    each = [
        Sought(
            str(row["event_id"]),
            str(row["place_id"]),
            str(row["kind"]),
            *_flows(row[["size_l_s", "size_l_s_low", "size_l_s_high"]]),
            *(_date(row[name]) for name in ("start", "start_low", "start_high")),
        )
        for _, row in leaks.iterrows()
    ]
    each += [
        Sought(str(cell_id), str(cell_id), "excess", *_flows(row))
        for cell_id, row in clear.iterrows()
    ]
    return tuple(sorted(each, key=lambda s: (s.cell_id, s.kind == "excess", s.sought_id)))


def _open(events: pd.DataFrame, kinds: tuple[str, ...]) -> pd.DataFrame:
    at_zone = (events["place_kind"] == "zone") & (events["state"] == "open")
    return events[at_zone & events["kind"].isin(kinds)]


def _flows(row: pd.Series[Any]) -> tuple[float, float, float]:
    middle, low, high = np.nan_to_num(row.to_numpy(dtype=float)).clip(min=0.0)
    return float(middle), float(low), float(high)


def _date(value: Any) -> date | None:
    return None if pd.isna(value) else pd.Timestamp(value).date()


def _moved(events: pd.DataFrame) -> pd.DataFrame:
    """Changes of meter or boundary with a row for each of their two zones, added and taken."""
    taken = events.assign(
        place_id=events["other_cell_id"],
        size_l_s=-events["size_l_s"].astype(float),
        size_l_s_low=-events["size_l_s_high"].astype(float),
        size_l_s_high=-events["size_l_s_low"].astype(float),
    )
    named = events["other_cell_id"].notna() & (events["other_cell_id"] != "")
    return pd.concat([events, taken[named]]) if named.any() else events


def _summed(events: pd.DataFrame) -> pd.DataFrame:
    """Size of events by zone; half-widths of the limits add in quadrature."""
    size = events["size_l_s"].astype(float)
    by_zone = events["place_id"]
    below = ((size - events["size_l_s_low"].astype(float)) ** 2).groupby(by_zone).sum()
    above = ((events["size_l_s_high"].astype(float) - size) ** 2).groupby(by_zone).sum()
    total = size.groupby(by_zone).sum()
    limits = [total, total - np.sqrt(below), total + np.sqrt(above)]
    return pd.DataFrame(dict(zip(_FLOW, limits, strict=True)))


def _less(flow: pd.DataFrame, part: pd.DataFrame) -> pd.DataFrame:
    """The flow without a part of it, where there is one."""
    middle, low, high = (flow[c] for c in _FLOW)
    off, off_low, off_high = (part[c] for c in _FLOW)
    rest = pd.DataFrame(
        {
            "flow_l_s": middle - off,
            "flow_l_s_low": middle - off - np.hypot(middle - low, off_high - off),
            "flow_l_s_high": middle - off + np.hypot(high - middle, off - off_low),
        }
    )
    return rest.where(off.notna(), flow)
