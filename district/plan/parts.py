"""The parts into which devices and tees cut the mains, gathered by pipe of the layer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.network import Network

Positions = npt.NDArray[np.intp]
Reals = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Parts:
    """Parts of the mains asked for: `table` with part_id, cell_id, length_m, sorted by id; `main`
    the position of each part's main; `mains_count` of these."""

    table: pd.DataFrame
    main: Positions
    mains_count: int
    copies: npt.NDArray[np.bool_]
    """Mains drawn a second time, which the network leaves out: they have the parts of the other."""

    def share(self) -> Reals:
        """Share of its main that each part is, by length."""
        length = np.maximum(self.table["length_m"].to_numpy(dtype=float), 1e-9)
        whole = np.bincount(self.main, weights=length, minlength=self.mains_count)
        return np.asarray(length / whole[self.main])

    def found(self) -> npt.NDArray[np.bool_]:
        """Which mains have any part."""
        return np.asarray(np.bincount(self.main, minlength=self.mains_count) > 0)


def parts_of(pipe_ids: pd.Series[Any], network: Network) -> Parts:
    """The parts of these pipes of the layer, which are told once each.

    A copy that the network left out has the parts of the pipe it copies, so that a break of it
    leaves the same people without water.
    """
    pipes = network.pipes.sort_index()
    repairs = network.repairs[network.repairs["what"] == "duplicate"]
    copy_of = dict(zip(repairs["pipe_id"], repairs["other_id"], strict=True))
    own = pipe_ids.map(lambda pipe: copy_of.get(pipe, pipe))
    mains = pd.DataFrame({"layer_pipe_id": own.to_numpy(), "main": np.arange(len(own))})
    cut = pd.DataFrame(
        {
            "part_id": pipes.index.to_numpy(),
            "layer_pipe_id": pipes["layer_pipe_id"].to_numpy(),
            "cell_id": pipes["cell_id"].fillna("").to_numpy(),
            "length_m": pipes["length_m"].to_numpy(dtype=float),
        }
    )
    table = mains.merge(cut, on="layer_pipe_id").sort_values(["main", "part_id"], ignore_index=True)
    return Parts(
        table[["part_id", "cell_id", "length_m"]],
        table["main"].to_numpy(dtype=np.intp),
        len(own),
        pipe_ids.isin(list(copy_of)).to_numpy(),
    )
