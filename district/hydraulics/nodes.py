"""The nodes of a model: names, levels of the ground, heads that sources hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.levels import interpolated_level_m
from district.hydraulics.model import Reals
from district.hydraulics.parting import Parted
from district.hydraulics.sources import held_heads
from district.network import Network
from district.settings import Settings

_UNKNOWN_SPREAD_M = 20.0
"""95 % limit of a level that rests on nothing, or on a single one. Assumption."""


@dataclass(frozen=True, eq=False)
class Nodes:
    """Nodes of a `Model`, and what was assumed of them; `spread_m` 95 % limit of a level."""

    node_id: Any
    elevation_m: Reals
    fixed_head_m: Reals
    spread_m: float
    said: tuple[str, ...]


def nodes_of(
    network: Network, parts: Parted, *, settings: Settings, pressures: pd.DataFrame | None = None
) -> Nodes:
    """The network's nodes in order, then those added where a node was parted.

    `pressures` and errors as of `held_heads`.
    """
    place = _xy(network.nodes)
    level, spread_m = interpolated_level_m(
        np.vstack([place, place[parts.parent]]), **_told(network)
    )
    held = held_heads(network, parts, level, settings=settings, pressures=pressures)
    assumed_m = settings.pressure.assumed_m
    if np.isnan(level).any():
        level = np.full(len(level), held.usual_m - assumed_m)
        said = f"No level of the ground is told: pressures rest on {assumed_m:g} m everywhere."
    else:
        said = "Levels of the mains are taken from connections and gauges near them" + (
            f", within {spread_m:.1f} m in 95 of 100 places." if np.isfinite(spread_m) else "."
        )
    copy = pd.Series(parts.parent).groupby(parts.parent).cumcount().to_numpy() + 2
    names = [str(n) for n in network.nodes.index]
    added = [f"{names[p]}/{c}" for p, c in zip(parts.parent, copy, strict=True)]
    return Nodes(
        node_id=np.array([*names, *added], dtype=object),
        elevation_m=level,
        fixed_head_m=held.head_m,
        spread_m=spread_m if np.isfinite(spread_m) else _UNKNOWN_SPREAD_M,
        said=(*held.said, said),
    )


def _told(network: Network) -> dict[str, Any]:
    """Where levels of the ground are told: a tank's is that of its gauge, up a tower or so."""
    sensors = network.sensors[network.sensors["kind"] != "tank_level"]
    layers = [t for t in (network.connections, sensors) if len(t)]
    return {
        "known_x_y_m": np.vstack([np.zeros((0, 2)), *map(_xy, layers)]),
        "known_level_m": np.concatenate(
            [np.zeros(0), *(t["elevation_m"].to_numpy(dtype=float) for t in layers)]
        ),
    }


def _xy(layer: Any) -> Reals:
    return np.column_stack([layer.geometry.x, layer.geometry.y]).astype(float)
