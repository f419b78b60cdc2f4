"""In which order to act on events."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.schema.event_tables import MOVED_KINDS

SUPPORT_ORDER = {"both": 0, "flow": 1, "alarm": 2}
"""An alarm and a flow that speak for each other first, then a flow alone, then an alarm alone."""
_MOVED_WORTH = (
    0.2  # of water that only moves on paper, as it hides leaks: common practice, no source
)


def rank_events(events: pd.DataFrame, *, tiers: pd.Series[Any] | None = None) -> pd.Series[Any]:
    """Order to act in, from 1, of the rows of EVENTS to act on; NaN elsewhere.

    First by the steps of `together.tiers`, or without them by what tells of an event
    (`SUPPORT_ORDER`). Then by the flow it takes times how sure it
    is that water is lost: its probability where it is called a leak or a building's flow, what is
    left for a leak where it is called something else, and a fifth of the flow where water only
    moves between zones on paper. All water has one price, so that flow stands for money a day.
    Then by start, the newer first, then by id. Index as given.
    """
    acting = events[events["act"].astype(bool)]
    steps = events["support"].map(SUPPORT_ORDER).fillna(1) if tiers is None else tiers
    share = acting["kind_share"].fillna(1.0).to_numpy(dtype=float)
    moved = acting["kind"].isin(MOVED_KINDS).to_numpy()
    other = acting["kind"].isin(["use", "unknown"]).to_numpy()
    worth = np.where(moved, _MOVED_WORTH * share, np.where(other, 1.0 - share, share))
    flow = acting["size_l_s"].fillna(0.0).to_numpy(dtype=float)
    order = pd.DataFrame(
        {
            "tier": steps.loc[acting.index].to_numpy(),
            "loss": -(flow * worth),
            "age": -pd.to_datetime(acting["start"]).astype("int64").to_numpy(),
            "event_id": acting["event_id"].to_numpy(),
        },
        index=acting.index,
    ).sort_values(["tier", "loss", "age", "event_id"], kind="stable")
    rank = pd.Series(np.nan, index=events.index)
    rank.loc[order.index] = np.arange(1.0, len(order) + 1)
    return rank
