"""A district's network as a model, what is drawn from it hour by hour, and how well it fits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.model import Flags, Model, Reals, Wholes


@dataclass(frozen=True, eq=False)
class Drawn:
    """The network as a `Model` of N nodes, and where its things stand in it.

    pipe_link (P)
        link of each row of `network.pipes`, in that order; its start and end are those of the row.
    node_cell (N)
        cell_id of each node, '' where no pipe of a cell meets it. A node on a zone meter belongs
        to the cell downstream of it.
    tap (connections, N)
        how the draw of each row of `network.connections` is shared among nodes; rows sum to 1, or
        to 0 where the connection lies on no pipe.
    logger_id (G), watch (G, N)
        pressure loggers that stand on a pipe, and the weights that make each one's head of the
        heads of nodes; rows sum to 1.
    logger_level_m (G)
        level of each gauge above datum; NaN where not told.
    assumed
        what the layers did not tell, one sentence each.
    group (L)
        group of pipes each link is fitted with, '' where it is none; () for one group of all.
    level_spread_m
        95 % limit of how far the level of a node, `model.elevation_m`, may be off.
    """

    model: Model
    pipe_link: Wholes
    node_cell: Any
    tap: csr_array
    logger_id: Any
    watch: csr_array
    logger_level_m: Reals
    assumed: tuple[str, ...] = ()
    group: Any = ()
    level_spread_m: float = 5.0


@dataclass(frozen=True, eq=False)
class Demands:
    """What leaves the network, hour by hour: T hours, C cells, N nodes.

    hours
        T rows: day (local date), hour (0 to 23).
    cell_id (C)
    rest_l_s (T, C)
        net inflow of each cell less what its interval-metered users drew; NaN where a meter of
        the cell lacks that hour. Use and leakage together. What is usual in a cell that is not
        metered all around.
    measured_l_s (T, N)
        what interval-metered users drew.
    use (C, N), leakage (C, N)
        how a cell's other use, and its background leakage, spread over its nodes; rows sum to 1.
    leakage_l_s (C)
        background leakage of each cell, part of `rest_l_s`.
    use_spread_share (C)
        95 % limit of how far one connection's mean use may lie from its share, as a share of it.
    """

    hours: pd.DataFrame
    cell_id: Any
    rest_l_s: Reals
    measured_l_s: Reals
    use: csr_array
    leakage: csr_array
    leakage_l_s: Reals
    use_spread_share: Reals

    def node_l_s(self) -> Reals:
        """Everything that leaves at each node and hour, (T, N); a cell's missing hour is 0."""
        leak = np.minimum(self.leakage_l_s, np.nan_to_num(self.rest_l_s).clip(min=0.0))
        rest = np.nan_to_num(self.rest_l_s) - leak
        return np.asarray(rest @ self.use + leak @ self.leakage + self.measured_l_s)


@dataclass(frozen=True, eq=False)
class Calibrated:
    """A model fitted to its loggers, and how well it then explains them.

    drawn
        with the fitted roughness.
    roughness (K, L)
        K draws of what the roughness of each link may be instead, given the readings; groups of
        links keep together.
    use_index (1 + K, N)
        factor on each node's share of its cell's use: as expected given the readings, then in
        each of the K draws, jointly with `roughness`; empty where the readings were not asked.
    offset_m (G)
        by which each logger (order of `drawn.logger_id`) reads above the fitted model: its own
        offset and that of the head its zone is fed with. NaN where it was not compared.
    groups
        table CALIBRATION of `schema.located`.
    loggers
        table LOGGER_CHECKS of `schema.located`; offsets there are the loggers' own.
    usable (G)
        loggers whose course the model explains well enough to be evidence.
    reason
        why the model as a whole is no evidence, in a sentence; '' where it is.
    warning
        what speaks against the map the model is made of, in a sentence, '' where nothing does.
    """

    drawn: Drawn
    roughness: Reals
    offset_m: Reals
    groups: pd.DataFrame
    loggers: pd.DataFrame
    usable: Flags
    reason: str = ""
    use_index: Reals = field(default_factory=lambda: np.zeros((0, 0)))
    warning: str = ""
