"""What passed a meter either way: its error goes by that, not by the net of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import grids
from district.estimates import Array


def gross_of(frame: pd.DataFrame, *, net: str, gross: str) -> pd.Series[Any]:
    """What passed each meter either way, in the unit of `net`: what its error goes by.

    The size of the net flow where column `gross` is not there, is empty or says less.
    """
    least = frame[net].astype(float).abs()
    if gross not in frame:
        return least
    return np.fmax(frame[gross].astype(float), least).where(least.notna())


def night_grids(
    flows: pd.DataFrame, *, rows: pd.DatetimeIndex, columns: pd.Index[Any]
) -> tuple[Array, Array]:
    """Net and gross flow of table NIGHT_FLOWS, nights x meters, L/s; NaN where not known."""
    told = [name for name in ("flow_l_s", "gross_l_s") if name in flows]
    net, *gross = grids(flows, row="night", values=told, rows=rows, columns=columns)
    least = abs(net)
    if not gross:
        return net, least
    return net, np.where(np.isnan(net), np.nan, np.fmax(gross[0], least))
