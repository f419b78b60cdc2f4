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
    not clearly above nothing; the zone's excess otherwise, never less than 0. `searched`: the
    lower limit of the excess is above 0, or a leak is open.
    """
    excess = zones.set_index("cell_id")[["excess_l_s", "excess_l_s_low", "excess_l_s_high"]]
    excess = excess.astype(float).clip(lower=0.0)
    excess.columns = pd.Index(_FLOW)
    open_leaks = events[
        (events["place_kind"] == "zone")
        & (events["state"] == "open")
        & events["kind"].isin(LEAK_KINDS)
    ]
    by_cell = open_leaks.groupby("place_id")
    count = by_cell.size()
    # Limits of a sum: half-widths add in quadrature.
    size = by_cell["size_l_s"].sum()
    below = ((open_leaks["size_l_s"] - open_leaks["size_l_s_low"]) ** 2).groupby(
        open_leaks["place_id"]
    )
    above = ((open_leaks["size_l_s_high"] - open_leaks["size_l_s"]) ** 2).groupby(
        open_leaks["place_id"]
    )
    leaks = pd.DataFrame(
        {
            "flow_l_s": size,
            "flow_l_s_low": (size - np.sqrt(below.sum())).clip(lower=0.0),
            "flow_l_s_high": size + np.sqrt(above.sum()),
        }
    )
    cells = excess.index.union(leaks.index)
    found = excess.reindex(cells)
    clear = found["flow_l_s_low"] > 0
    several = count.reindex(cells, fill_value=0)
    by_leak = (several == 1) | ((several > 1) & ~clear)
    found = found.where(~by_leak, leaks.reindex(cells))
    found["searched"] = clear | (several > 0)
    found["leaks_count"] = several.astype(int)
    return found.rename_axis("cell_id")
