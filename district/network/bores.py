"""How wide the pipe is that a zone meter stands on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES

_ON_PIPE_M = 0.5


def pipe_bores_mm(inputs: Inputs) -> pd.Series[Any]:
    """Diameter of the pipe each zone meter stands on, mm by meter_id.

    Left out where the pipes that meet there differ, or where any pipe's diameter is assumed. Flow
    from travel times and its error both go by it.
    """
    used = inputs.defaults
    pipes = inputs.pipes[inputs.pipes.geometry.notna()]
    meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    meters = meters[meters["meter_id"].notna() & meters.geometry.notna()]
    assumed = len(used) and ((used["table"] == "pipes") & (used["column"] == "diameter_mm")).any()
    if assumed or pipes.empty or meters.empty:
        return pd.Series(dtype=float)
    at, on = pipes.sindex.query(meters.geometry.array, predicate="dwithin", distance=_ON_PIPE_M)
    beside = pd.DataFrame(
        {
            "meter_id": np.asarray(meters["meter_id"].iloc[at], dtype=object),
            "diameter_mm": pipes["diameter_mm"].iloc[on].to_numpy(dtype=float),
        }
    )
    there = beside.groupby("meter_id")["diameter_mm"].agg(["min", "max"])
    return there.loc[there["min"] == there["max"], "min"]
