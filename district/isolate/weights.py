"""What lies in each segment: pipes, connections, properties, critical users, mean use."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.expected import ALLOWED_SPREAD_SHARE, expected_use_l_s
from district.hydraulics.model import Reals, Wholes
from district.isolate.users import is_critical
from district.network import Network
from district.schema.isolate_tables import LOSSES
from district.settings import Settings

HOUSEHOLD = "household"
KINDS = (
    "pipes_count",
    "length_m",
    "connections_count",
    "properties_count",
    "critical_count",
    "use_l_s",
    "use_variance",
    "people_count",
    "people_count_low",
    "people_count_high",
)
"""Columns of a weight array; `use_variance` sums the squares of the 95 % limits of each use."""
PROPERTIES, LENGTH, CRITICAL = (
    KINDS.index(k) for k in ("properties_count", "length_m", "critical_count")
)


def connection_pipes(network: Network) -> Wholes:
    """Row of the pipe of each connection, -1 where it lies on none."""
    return np.asarray(
        network.pipes.index.get_indexer(network.connections["pipe_id"].astype(str)), dtype=np.int64
    )


def weights_of(network: Network, *, settings: Settings) -> tuple[Reals, Reals]:
    """What each pipe (P, K) and each connection (C, K) counts, by `KINDS`.

    Use is that allowed for the class and properties. Its limits are those of single users about
    their allowance, independent of each other; what an allowance itself may be off by is not in
    them.
    """
    pipes, taps = network.pipes, network.connections
    by_pipe = np.zeros((len(pipes), len(KINDS)))
    by_pipe[:, 0] = 1.0
    by_pipe[:, LENGTH] = pipes["length_m"].to_numpy(dtype=float)
    use = expected_use_l_s(taps, settings=settings)
    by_tap = np.zeros((len(taps), len(KINDS)))
    by_tap[:, 2] = 1.0
    by_tap[:, PROPERTIES] = taps["properties"].fillna(1).to_numpy(dtype=float)
    by_tap[:, CRITICAL] = is_critical(taps)
    by_tap[:, 5] = use
    by_tap[:, 6] = (ALLOWED_SPREAD_SHARE * use) ** 2
    by_tap[:, 7:10] = _people(taps, settings)
    return by_pipe, by_tap


def _people(taps: pd.DataFrame, settings: Settings) -> Reals:
    """People of each connection with limits (C, 3): as told, or of households by the setting.

    Limits of a sum are sums of limits, since all households of a place may be large or small.
    """
    told = taps["people"].to_numpy(dtype=float) if "people" in taps else np.full(len(taps), np.nan)
    lives = (taps["use_class"] == HOUSEHOLD).to_numpy()
    assumed = taps["properties"].fillna(1).to_numpy(dtype=float) * settings.isolate.people_property
    middle = np.where(np.isfinite(told), told, np.where(lives, assumed, 0.0))
    half = np.where(np.isfinite(told), 0.0, settings.isolate.people_spread_share * middle)
    return np.asarray(np.column_stack([middle, np.maximum(middle - half, 0.0), middle + half]))


def summed(number: Wholes, weight: Reals, count: int) -> Reals:
    """Sum of the weights (n, K) by number (n) from 0 to `count` - 1; -1 counts nowhere."""
    own = number >= 0
    total = np.zeros((count, weight.shape[1]))
    for k in range(weight.shape[1]):
        total[:, k] = np.bincount(number[own], weights=weight[own, k], minlength=count)
    return total


def loss_columns(weight: Reals, before: str = "") -> dict[str, Any]:
    """Weights (n, K) as the columns `LOSSES`, under names that begin with `before`."""
    table = pd.DataFrame(np.asarray(weight), columns=list(KINDS))
    half = np.sqrt(np.maximum(table["use_variance"], 0.0))
    table["use_l_s_low"] = np.maximum(table["use_l_s"] - half, 0.0)
    table["use_l_s_high"] = table["use_l_s"] + half
    name = f"{before}_" if before else ""
    return {
        f"{name}{c.name}": (
            table[c.name].round().astype("int64") if c.kind == "whole" else table[c.name]
        ).to_numpy()
        for c in LOSSES
    }
