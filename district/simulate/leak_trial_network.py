"""A drawn zone as a `Network`: what its GIS says, gaps and all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
import shapely

from district.hydraulics.model import Reals, Wholes
from district.network import Network
from district.simulate.leak_trial_map import (
    METER_ERROR_PERCENT,
    SOURCE,
    ZONE,
    ZoneMap,
    along,
    textbook_roughness,
)

_CRS = 32630
_BESIDE_M = 8.0


@dataclass(frozen=True)
class WrongValve:
    """A valve whose state the GIS has wrong: `pipe`, shut in truth, or `node`, recorded shut.

    The other is -1.
    """

    pipe: int = -1
    node: int = -1


def draw_wrong_valve(rng: np.random.Generator, drawn: ZoneMap, *, apart: Wholes) -> WrongValve:
    """A valve inside the zone, either way wrong, on a loop (nobody is cut off by it), and on none
    of the pipes `apart`."""
    graph: Any = nx.Graph()
    ends = list(zip(drawn.pipes["start"], drawn.pipes["end"], strict=True))
    graph.add_edges_from(ends)
    bridges = {frozenset(b) for b in nx.bridges(graph)}
    on_loop = np.array([frozenset(e) not in bridges for e in ends])
    inside = on_loop & (drawn.pipes["start"] < drawn.source).to_numpy()
    inside[apart] = False
    pipe = int(rng.choice(np.flatnonzero(inside)))
    passed = [n for n in np.unique(np.array(ends)[inside]) if graph.degree(n) == 2]
    if rng.random() < 0.5 or not passed:
        return WrongValve(pipe=pipe)
    return WrongValve(node=int(rng.choice(passed)))


def gis_pipes(rng: np.random.Generator, drawn: ZoneMap) -> pd.DataFrame:
    """The mains as the GIS has them: some materials and years missing; roughness, where the
    district keeps it at all, as a handbook has it."""
    pipes = drawn.pipes
    kept = rng.random() < 0.5
    book = textbook_roughness(pipes["material"], pipes["installed_year"].to_numpy())
    unknown = rng.random(len(pipes)) < 0.05
    undated = rng.random(len(pipes)) < 0.08
    return pd.DataFrame(
        {
            "layer_pipe_id": pipes.index.to_numpy(),
            "start_position": pipes["start"].to_numpy(),
            "end_position": pipes["end"].to_numpy(),
            "cell_id": pipes["cell_id"].to_numpy(),
            "length_m": pipes["length_m"].to_numpy(),
            "diameter_mm": pipes["diameter_mm"].to_numpy(),
            "material": pipes["material"].where(~unknown, "unknown").to_numpy(),
            "installed_year": pipes["installed_year"].where(~undated).to_numpy(),
            "roughness": np.round(book, -1) if kept else np.full(len(pipes), np.nan),
        },
        index=pipes.index,
    )


def network_of_zone(
    drawn: ZoneMap, told: pd.DataFrame, *, head_m: float, valve: WrongValve | None = None
) -> Network:
    """The zone as a `Network` of `told` pipes (see `gis_pipes`); `head_m` is that of its source.

    Rows of nodes and pipes are those of the map.
    """
    valve = valve or WrongValve()
    place = drawn.nodes[["x_m", "y_m"]].to_numpy()
    meters, taps, loggers = drawn.meters, drawn.taps, drawn.loggers
    cut = np.full(len(place), "", dtype=object)
    cut[meters["node"]] = meters["meter_id"]
    if valve.node >= 0:
        cut[valve.node] = "V01"
    line = shapely.linestrings(
        np.stack([place[told["start_position"]], place[told["end_position"]]], axis=1)
    )
    users = taps[taps["meter_id"] != ""]
    zone = shapely.convex_hull(shapely.union_all(line[told["cell_id"] == ZONE]))
    return Network(
        nodes=gpd.GeoDataFrame(
            {"cut": cut},
            index=pd.Index([f"N{n:05d}" for n in range(len(place))], name="node_id", dtype=object),
            geometry=shapely.points(place),
            crs=_CRS,
        ),
        pipes=gpd.GeoDataFrame(told, geometry=line, crs=_CRS),
        cells=_cells(drawn),
        boundaries=meters[["meter_id"]].assign(
            upstream_cell_id=SOURCE,
            downstream_cell_id=ZONE,
            role="inlet",
            kind="electromagnetic",
            error_percent=METER_ERROR_PERCENT,
        ),
        connections=_layer(
            taps[["connection_id", "properties", "use_class", "private_pipe_m", "meter_id"]].assign(
                critical=False, building_id="", **_where(drawn, taps)
            ),
            "connection_id",
            _beside(drawn, taps),
        ),
        valves=_valves(drawn, valve, place, line),
        sensors=_layer(
            loggers[["sensor_id"]].assign(kind="pressure", **_where(drawn, loggers)),
            "sensor_id",
            along(drawn, place, loggers),
        ),
        sources=_layer(
            pd.DataFrame(
                {
                    "source_id": ["SRC"],
                    "head_m": [head_m],
                    "cell_id": [SOURCE],
                    "pipe_id": [_at_source(drawn)],
                }
            ),
            "source_id",
            place[[drawn.source]],
        ),
        meters=_layer(
            pd.DataFrame(
                {
                    "meter_id": [*meters["meter_id"], *users["meter_id"]],
                    "role": ["inlet"] * len(meters) + ["customer"] * len(users),
                    "kind": "electromagnetic",
                    "error_percent": METER_ERROR_PERCENT,
                    "cell_id": [""] * len(meters) + [ZONE] * len(users),
                    "pipe_id": "",
                    "pipe_bore_mm": np.nan,
                }
            ),
            "meter_id",
            np.vstack([place[meters["node"]], _beside(drawn, users)]),
        ),
        zones=_layer(pd.DataFrame({"zone_id": [ZONE], "name": [ZONE]}), "zone_id", geometry=[zone]),
    )


def _where(drawn: ZoneMap, things: pd.DataFrame) -> dict[str, Any]:
    level = along(drawn, drawn.nodes["elevation_m"].to_numpy(), things)
    pipe_id = drawn.pipes.index.to_numpy()[things["pipe"]]
    return {"pipe_id": pipe_id, "cell_id": ZONE, "elevation_m": level}


def _beside(drawn: ZoneMap, things: pd.DataFrame) -> Reals:
    place = drawn.nodes[["x_m", "y_m"]].to_numpy()
    ends: Wholes = drawn.pipes[["start", "end"]].to_numpy()[things["pipe"]]
    ahead = place[ends[:, 1]] - place[ends[:, 0]]
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
    side = np.where(np.arange(len(things)) % 2, 1.0, -1.0)[:, None]
    return np.asarray(along(drawn, place, things) + _BESIDE_M * side * across)


def _at_source(drawn: ZoneMap) -> str:
    return str(drawn.pipes.index[drawn.pipes["start"] == drawn.source][0])


def _cells(drawn: ZoneMap) -> pd.DataFrame:
    km = drawn.pipes.groupby("cell_id")["length_m"].sum() / 1000
    taps = drawn.taps
    level = along(drawn, drawn.nodes["elevation_m"].to_numpy(), taps).mean()
    return pd.DataFrame(
        {
            "zone_ids": [(), (ZONE,)],
            "name": [SOURCE, ZONE],
            "parent_cell_id": "",
            "has_source": [True, False],
            "mains_km": [km[SOURCE], km[ZONE]],
            "connections_count": [0, len(taps)],
            "properties_count": [0.0, float(taps["properties"].sum())],
            "private_km": [0.0, taps["private_pipe_m"].sum() / 1000],
            "elevation_m": [np.nan, level],
        },
        index=pd.Index([SOURCE, ZONE], name="cell_id", dtype=object),
    )


def _valves(drawn: ZoneMap, valve: WrongValve, place: Reals, line: Any) -> gpd.GeoDataFrame:
    """The one valve that is not as recorded, where there is one."""
    touching = drawn.pipes[["start", "end"]].eq(valve.node).any(axis=1).to_numpy()
    pipe = np.flatnonzero(touching)[:1] if valve.node >= 0 else np.array([valve.pipe])
    pipe = pipe[pipe >= 0]
    where = place[[valve.node]] if valve.node >= 0 else shapely.get_coordinates(line[pipe])[:1]
    return _layer(
        pd.DataFrame(
            {
                "valve_id": ["V01"] * len(pipe),
                "kind": "isolation",
                "state": "shut" if valve.node >= 0 else "open",
                "operable": True,
                "setting_m": np.nan,
                "pipe_id": drawn.pipes.index.to_numpy()[pipe],
                "cell_id": ZONE,
            }
        ),
        "valve_id",
        where,
    )


def _layer(
    frame: pd.DataFrame, key: str, where: Reals | None = None, *, geometry: Any = None
) -> gpd.GeoDataFrame:
    shapes = shapely.points(where) if geometry is None else geometry
    layer = gpd.GeoDataFrame(frame.reset_index(drop=True), geometry=shapes, crs=_CRS)
    return layer.set_index(key, drop=False).rename_axis(None).sort_index()
