"""A trial district's map as a `Network`."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from district.network import Network
from district.simulate.trial_map import SOURCE, TrialMap

_CRS = 32630
_AT_DEVICE_M = 50.0
"""Length of pipe on each side of a zone meter or shut valve."""


def network_of(drawn: TrialMap) -> Network:
    """The same as a `Network`: each cell a hub with a main, and a pipe to each of its devices."""
    names = [SOURCE, *drawn.cells.index]
    devices = pd.concat(
        [
            drawn.edges[["meter_id", "upstream_cell_id", "downstream_cell_id"]].set_axis(
                ["cut", "first", "other"], axis=1
            ),
            drawn.valves.set_axis(["cut", "first", "other"], axis=1),
        ],
        ignore_index=True,
    )
    hub = np.array([(1000.0 * n, 0.0) for n in range(len(names))])
    place = {name: n for n, name in enumerate(names)}
    first, other = (devices[c].map(place).to_numpy(dtype=int) for c in ("first", "other"))
    lift = np.column_stack([np.zeros(len(devices)), 50.0 + 10.0 * np.arange(len(devices))])
    at_device = (hub[first] + hub[other]) / 2.0 + lift
    spots = np.vstack([hub, hub - [0.0, 400.0], at_device])
    device_node = 2 * len(names) + np.arange(len(devices))
    nodes = gpd.GeoDataFrame(
        {"cut": ["" for _ in range(2 * len(names))] + devices["cut"].to_list()},
        index=pd.Index([f"N{n}" for n in range(len(spots))], name="node_id", dtype=object),
        geometry=shapely.points(spots),
        crs=_CRS,
    )
    start = np.concatenate([np.arange(len(names)), first, device_node])
    end = np.concatenate([len(names) + np.arange(len(names)), device_node, other])
    cell = np.concatenate([np.arange(len(names)), first, other])
    touching = np.bincount(cell[len(names) :], minlength=len(names))
    mains_m = drawn.cells["mains_km"].reindex(names).fillna(1.0).to_numpy() * 1000.0
    rest_m = np.maximum(mains_m - _AT_DEVICE_M * touching, 10.0)
    ids = [f"P-{n}" for n in names]
    ids += [f"P-{d}/{side}" for side in (1, 2) for d in devices["cut"]]
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": [i.split("/")[0] for i in ids],
            "start_position": start,
            "end_position": end,
            "cell_id": np.array(names, dtype=object)[cell],
            "length_m": np.concatenate([rest_m, np.full(2 * len(devices), _AT_DEVICE_M)]),
            "diameter_mm": 100.0,
            "material": "pvc",
            "installed_year": 1990.0,
            "roughness": 130.0,
        },
        index=pd.Index(ids, name="pipe_id", dtype=object),
        geometry=shapely.linestrings(np.stack([spots[start], spots[end]], axis=1)),
        crs=_CRS,
    )
    cells = drawn.cells.reindex(names)
    cells.loc[SOURCE, ["connections_count", "properties_count", "private_km"]] = 0
    cells.loc[SOURCE, "mains_km"] = 1.0
    own = {"has_source": cells.index == SOURCE, "name": names, "zone_ids": [(n,) for n in names]}
    cells = cells.assign(**own, parent_cell_id=cells["parent_cell_id"].fillna(""))
    place_of = {n: spots[len(names) + p] for n, p in place.items()}
    at = dict(zip(devices["cut"], at_device, strict=True))
    users = drawn.users.assign(pipe_id=[f"P-{c}" for c in drawn.users["cell_id"]], kind="register")
    edges = drawn.edges.assign(cell_id="", pipe_id="P-" + drawn.edges["meter_id"] + "/1")
    meters = pd.concat([edges, users], ignore_index=True).assign(pipe_bore_mm=np.nan)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=cells.rename_axis("cell_id"),
        boundaries=drawn.edges.sort_values("meter_id", ignore_index=True)[
            [
                "meter_id",
                "upstream_cell_id",
                "downstream_cell_id",
                "role",
                "kind",
                "error_percent",
            ]
        ],
        connections=_layer(
            drawn.taps.assign(pipe_id="P-" + drawn.taps["cell_id"], critical=False, building_id=""),
            "connection_id",
            [place_of[c] for c in drawn.taps["cell_id"]],
        ),
        valves=_layer(
            drawn.valves.assign(
                kind="boundary",
                state="shut",
                operable=True,
                cell_id=drawn.valves["first_cell_id"],
                pipe_id=[f"P-{v}/1" for v in drawn.valves["valve_id"]],
            ),
            "valve_id",
            [at[v] for v in drawn.valves["valve_id"]],
        ),
        sensors=_layer(
            drawn.loggers.assign(
                kind="pressure", pipe_id=[f"P-{c}" for c in drawn.loggers["cell_id"]]
            ),
            "sensor_id",
            [place_of[c] for c in drawn.loggers["cell_id"]],
        ),
        sources=_layer(
            pd.DataFrame(
                {
                    "source_id": ["SRC"],
                    "head_m": [90.0],
                    "cell_id": [SOURCE],
                    "pipe_id": [f"P-{SOURCE}"],
                }
            ),
            "source_id",
            [hub[0]],
        ),
        meters=_layer(
            meters[
                ["meter_id", "role", "kind", "error_percent", "cell_id", "pipe_id", "pipe_bore_mm"]
            ],
            "meter_id",
            [at.get(m, place_of.get(c, hub[0])) for m, c in meters[["meter_id", "cell_id"]].values],
        ),
        zones=_layer(
            pd.DataFrame({"zone_id": names[1:], "name": names[1:]}),
            "zone_id",
            list(hub[1:]),
        ),
    )


def _layer(frame: pd.DataFrame, key: str, spots: list[Any]) -> gpd.GeoDataFrame:
    where = shapely.points(np.array(spots, dtype=float).reshape(-1, 2))
    layer = gpd.GeoDataFrame(frame.reset_index(drop=True), geometry=where, crs=_CRS)
    return layer.set_index(key, drop=False).rename_axis(None).sort_index()
