"""Whether the truth of a trial district lies within limits stated for it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.simulate.trial import Trial
from district.simulate.trial_map import TRUNK

SIZES = (50, 150, 400)
"""Connections of a zone that part the classes of size."""


def trial_limits(trial: Trial, nights: pd.DataFrame, *, figure: str) -> pd.DataFrame:
    """Stated limits of a figure of table NIGHTS beside its truth, a row a zone and night.

    Parameters: `nights` table NIGHTS of the trial; `figure` leakage_l_s or leakage_m3_d. Nights
    without figures, with recorded works, or touched by a seeded fault are left out.

    Returns cell_id, night, size (text: class of connections, or trunk), value, low, high, truth,
    and at (where the truth lies: -1 at the lower limit, 0 at the value, 1 at the upper one).
    """
    stated = nights.rename(
        columns={figure: "value"} | {f"{figure}_{s}": s for s in ("low", "high")}
    )
    stated = stated.assign(night=pd.to_datetime(stated["night"]).dt.as_unit("us"))
    usable = (stated["status"] == "measured") & (stated["works"] == "")
    truth = trial.truth_nights.rename(columns={figure: "truth"})
    truth = truth.loc[~truth["affected"].astype(bool), ["cell_id", "night", "truth"]]
    found = stated.loc[usable, ["cell_id", "night", "value", "low", "high"]].merge(
        truth, on=["cell_id", "night"]
    )
    above = found["truth"] >= found["value"]
    reach = np.where(above, found["high"] - found["value"], found["value"] - found["low"])
    connections = trial.network.cells["connections_count"].reindex(found["cell_id"]).to_numpy()
    return found.assign(
        at=(found["truth"] - found["value"]) / reach,
        size=np.where(found["cell_id"] == TRUNK, "trunk", _class(connections)),
    )


def limits_held(limits: pd.DataFrame, *, by: list[str] | None = None) -> pd.DataFrame:
    """Coverage of rows of `trial_limits` together, or a row a group.

    Returns rows_count, held_share, below_share and above_share (truth under the lower, over the
    upper limit) and width_share (median of half the width over the value).
    """
    told = limits.assign(
        rows_count=1.0,
        held_share=limits["at"].abs() <= 1.0,
        below_share=limits["at"] < -1.0,
        above_share=limits["at"] > 1.0,
        width_share=(limits["high"] - limits["low"]) / 2.0 / limits["value"].abs(),
    )
    groups = told.groupby(by or np.zeros(len(told), dtype=int))
    shares = groups[["held_share", "below_share", "above_share"]].mean()
    return pd.concat([groups["rows_count"].sum(), shares, groups["width_share"].median()], axis=1)


def _class(connections: Any) -> Any:
    names = [f"to {SIZES[0]}", *(f"to {s}" for s in SIZES[1:]), f"over {SIZES[-1]}"]
    return np.array(names, dtype=object)[np.searchsorted(SIZES, connections)]
