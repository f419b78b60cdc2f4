"""Whom a step test leaves without water, from when until when, and on which pipes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.hydraulics.model import Wholes
from district.isolate.step_order import Night
from district.network import Network
from district.schema.step_tables import STEP_PIPES, STEP_USERS


def dry_h(turns: pd.DataFrame) -> list[float]:
    """By section of a table as `step_order.actions` gives it, how long it is dry: from the begin of
    its step until its valve is open again."""
    own = turns[turns["section_id"] != ""]
    begins = own[own["action"] == "step"].set_index("section_id")["begins_s"]
    ends = own[own["action"] == "reopen"].set_index("section_id")["ends_s"]
    return [float(h) for h in (ends.reindex(begins.index) - begins) / 3600]


def pipe_table(network: Network, section: Wholes) -> pd.DataFrame:
    """Table STEP_PIPES; `section` (P) by pipe, -1 outside the zone."""
    own = section >= 0
    return pd.DataFrame(
        {
            "pipe_id": network.pipes.index[own].to_numpy(dtype=object),
            "section_id": section[own].astype(str).astype(object),
        }
    )[list(STEP_PIPES.names())]


def user_table(
    network: Network, section: Wholes, turns: pd.DataFrame, night: Night
) -> pd.DataFrame:
    """Table STEP_USERS; `turns` as `step_order.actions` gives it."""
    taps = network.connections
    by_pipe = pd.Series(section, index=network.pipes.index)
    at = by_pipe.reindex(taps["pipe_id"]).fillna(-1).to_numpy(dtype=np.int64)
    dry = np.flatnonzero(at > 0)
    names = pd.Series(at[dry]).astype(str)
    own = turns[turns["section_id"] != ""]
    begins = own[own["action"] == "step"].set_index("section_id")["begins_s"].map(night.at)
    ends = own[own["action"] == "reopen"].set_index("section_id")["ends_s"].map(night.at)
    found = pd.DataFrame(
        {
            "connection_id": taps.index[dry].astype(str).to_numpy(dtype=object),
            "building_id": taps["building_id"].to_numpy(dtype=object)[dry],
            "use_class": taps["use_class"].to_numpy(dtype=object)[dry],
            "properties": taps["properties"].to_numpy()[dry],
            "section_id": names.to_numpy(dtype=object),
            "from_local_time": names.map(begins).to_numpy(dtype=object),
            "until_local_time": names.map(ends).to_numpy(dtype=object),
        }
    )
    order = np.lexsort([np.arange(len(dry)), at[dry]])
    return found.iloc[order].reset_index(drop=True)[list(STEP_USERS.names())]
