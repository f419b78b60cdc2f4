"""Parts of one pipe of the layer, joined again for people: a crew walks a pipe, not its parts.

Valves and meters cut a pipe into parts so that flow and isolation come out right; between two
valves three metres apart there is nothing to walk for.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.words import reasons
from district.schema.outputs import STRETCHES

_FLOW = ("flow_l_s", "flow_l_s_low", "flow_l_s_high")


def stretch_of_parts(layer_pipe_id: pd.Series[Any], cell_id: pd.Series[Any]) -> pd.Series[Any]:
    """The stretch each part belongs to: its pipe of the layer, or that pipe's share of a zone.

    Parameters on one index, the parts. Result on the same.
    """
    pipe, cell = layer_pipe_id.astype(str), cell_id.astype(str)
    zones = cell.groupby(pipe).transform("nunique")
    return pipe.where(zones <= 1, pipe + " in " + cell).rename("stretch_id")


def summed(values: Reals, stretch: Any, count: int) -> Reals:
    """Sum over the parts of each stretch, along the first axis."""
    order = np.argsort(stretch, kind="stable")
    first = np.searchsorted(stretch[order], np.arange(count))
    return np.asarray(np.add.reduceat(values[order], first, axis=0)) if count else values


def stretch_table(
    parts: pd.DataFrame,
    prior: pd.DataFrame,
    own: dict[str, Any],
    names: Any,
    stretch: Any,
) -> pd.DataFrame:
    """Table STRETCHES in order of search.

    Parameters: `parts` rows of LIKELIHOOD and `prior` the table of `leak_prior`, both a row a
    part; `own` columns of STRETCHES that are known by stretch already, `names` of the stretches,
    and `stretch` the number of each part's.
    """
    first = np.unique(stretch, return_index=True)[1]
    like = prior.iloc[first].copy()
    like["connections_count"] = np.bincount(
        stretch, weights=prior["connections_count"].to_numpy(dtype=float)
    ).astype(int)
    table = pd.DataFrame(
        {
            "stretch_id": names,
            "cell_id": parts["cell_id"].to_numpy()[first],
            "parts_count": np.bincount(stretch).astype(float),
            "length_m": np.bincount(stretch, weights=parts["length_m"].to_numpy(dtype=float)),
            **{name: parts[name].to_numpy()[first] for name in _FLOW},
            "why": reasons(like),
            **own,
        }
    )
    table["probability_per_100_m_share"] = (
        100 * table["probability_share"] / table["length_m"].clip(lower=1e-9)
    )
    return table.sort_values("rank", ignore_index=True)[list(STRETCHES.names())]
