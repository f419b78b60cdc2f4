"""What is looked for in each zone: its open leak, or its night flow above the background."""

from __future__ import annotations

import numpy as np
import pandas as pd

LEAK_KINDS = ("leak", "growing_leak")
_FLOW = ["flow_l_s", "flow_l_s_low", "flow_l_s_high"]


def sought(zones: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Flow to look for by zone: index cell_id; flow_l_s with limits, searched, leaks_count.

    Parameters: `zones` table ZONES, `events` table EVENTS. The flow is the size of the zone's
    open leak if there is just one; the sum of their sizes if there are several and the excess is
    not clearly above nothing; the zone's excess otherwise, less what an open change of meter or
    boundary adds to it (and more by it in the other zone, which shows too little), never less
    than 0. `searched`: the lower limit of that excess is above
    0, or a leak is open.
    """
    still_open = events[(events["place_kind"] == "zone") & (events["state"] == "open")]
    leaks = _summed(still_open[still_open["kind"].isin(LEAK_KINDS)])
    apparent = _summed(_moved(still_open[still_open["kind"] == "meter_or_boundary"]))
    excess = zones.set_index("cell_id")[["excess_l_s", "excess_l_s_low", "excess_l_s_high"]]
    excess = excess.astype(float).set_axis(_FLOW, axis=1)
    excess = _less(excess, apparent.reindex(excess.index))
    cells = excess.index.union(leaks.index)
    found = excess.clip(lower=0.0).reindex(cells)
    clear = found["flow_l_s_low"] > 0
    several = leaks["count"].reindex(cells).fillna(0)
    by_leak = (several == 1) | ((several > 1) & ~clear)
    found = found.where(~by_leak, leaks[_FLOW].reindex(cells).clip(lower=0.0))
    found["searched"] = clear | (several > 0)
    found["leaks_count"] = several.astype(int)
    return found.rename_axis("cell_id")


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
    """Size and count of events by zone; half-widths of the limits add in quadrature."""
    size = events["size_l_s"].astype(float)
    by_zone = events["place_id"]
    below = ((size - events["size_l_s_low"].astype(float)) ** 2).groupby(by_zone).sum()
    above = ((events["size_l_s_high"].astype(float) - size) ** 2).groupby(by_zone).sum()
    total = size.groupby(by_zone).sum()
    return pd.DataFrame(
        {
            "flow_l_s": total,
            "flow_l_s_low": total - np.sqrt(below),
            "flow_l_s_high": total + np.sqrt(above),
            "count": size.groupby(by_zone).size(),
        }
    )


def _less(excess: pd.DataFrame, apparent: pd.DataFrame) -> pd.DataFrame:
    """The excess without its apparent part, where there is one."""
    middle, low, high = (excess[c] for c in _FLOW)
    part, part_low, part_high = (apparent[c] for c in _FLOW)
    rest = pd.DataFrame(
        {
            "flow_l_s": middle - part,
            "flow_l_s_low": middle - part - np.hypot(middle - low, part_high - part),
            "flow_l_s_high": middle - part + np.hypot(high - middle, part - part_low),
        }
    )
    return rest.where(part.notna(), excess)
