"""Tanks whose level is read: what rises in one leaves its cell as through a meter."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.network.model import Network


def tanks_of(network: Network) -> pd.DataFrame:
    """The tanks whose level is read: cell_id and surface_m2 by sensor_id, sorted.

    Those on no pipe, or without a surface, are left out.
    """
    sensors = network.sensors
    if "surface_m2" not in sensors:
        sensors = sensors.assign(surface_m2=float("nan"))
    cell = sensors["cell_id"].astype(object)
    table = pd.DataFrame(
        {
            "cell_id": cell.where(cell.notna(), "").astype(str).to_numpy(),
            "surface_m2": sensors["surface_m2"].to_numpy(dtype=float),
        },
        index=pd.Index([str(s) for s in sensors.index], dtype=object),
    )
    is_tank = (sensors["kind"] == "tank_level").to_numpy(dtype=bool)
    return table[is_tank & (table["cell_id"] != "") & table["surface_m2"].notna()].sort_index()


def edges_with_tanks(network: Network) -> pd.DataFrame:
    """meter_id, upstream_cell_id and downstream_cell_id of the meters between cells and of tanks.

    A tank's sensor stands as a meter of its cell through which water leaves ('' downstream).
    """
    columns: list[Any] = ["meter_id", "upstream_cell_id", "downstream_cell_id"]
    edges, found = network.boundaries[columns], tanks_of(network)
    if found.empty:
        return edges
    own = pd.DataFrame(
        {"meter_id": found.index, "upstream_cell_id": found["cell_id"], "downstream_cell_id": ""}
    )
    return pd.concat([edges, own], ignore_index=True)
