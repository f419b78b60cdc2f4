"""The network as a hydraulic model: nodes, links, and where connections and loggers stand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.coefficients import roughness_groups
from district.hydraulics.expected import expected_use_l_s
from district.hydraulics.links import OPEN_LENGTH_M, joined_model, links_of
from district.hydraulics.model import Kind, Model
from district.hydraulics.nodes import nodes_of
from district.hydraulics.parting import Parted, parted, standing_node
from district.hydraulics.places import along
from district.hydraulics.steady import solve
from district.hydraulics.water import Drawn
from district.network import Network
from district.settings import Settings
from district.words import listed


def draw_model(
    network: Network,
    *,
    settings: Settings,
    pressures: pd.DataFrame | None = None,
    year: int | None = None,
) -> Drawn:
    """The network as a `Model`, and what stands where in it.

    The first nodes are those of `network.nodes`, the first links its pipes. A node is parted in
    two (the second named 'N00012/2') where a shut, check or reducing valve stands; zone meters do
    not part the water. Pipes whose part of the network holds no source are in the model too; the
    solver says that nothing reaches them.

    `pressures`, table HOURLY_PRESSURES, anchors a source whose head is not told; `year` is that in
    which pipes have their age, that of the last one laid if None. Raises `StageError` where a part
    of the network has several sources and the head of one is not known, or where there is no
    source at all.
    """
    pipes = network.pipes
    parts = _parted(network)
    valves = network.valves.sort_index().iloc[parts.valve]
    nodes = nodes_of(network, parts, settings=settings, pressures=pressures)
    links = links_of(network.pipes, valves, parts, year=year)
    model = joined_model(nodes, links)
    node_cell = _node_cells(network, parts)
    tap = _on_nodes(network.connections, pipes, parts, len(model.node_id), node_cell=node_cell)
    model = _turned(model, len(pipes), tap, network, settings)
    assumed = [*parts.said, *nodes.said, *links.said]
    acting = model.kind != Kind.PIPE
    if acting.any():
        named = listed([str(v) for v in model.link_id[acting]])
        assumed.append(
            f"Which way water may pass {named} is not recorded: taken as it would run with the "
            "valve open."
        )
    loggers = network.sensors[
        (network.sensors["kind"] == "pressure") & (network.sensors["pipe_id"] != "")
    ].sort_index()
    groups = np.append(roughness_groups(pipes), np.full(len(parts.valve), "", dtype=object))
    return Drawn(
        model=model,
        pipe_link=np.arange(len(pipes), dtype=np.int64),
        node_cell=node_cell,
        tap=tap,
        logger_id=np.array([str(s) for s in loggers.index], dtype=object),
        watch=_on_nodes(loggers, pipes, parts, len(model.node_id)),
        logger_level_m=loggers["elevation_m"].to_numpy(dtype=float),
        assumed=tuple(assumed),
        group=groups,
        level_spread_m=nodes.spread_m,
    )


def _parted(network: Network) -> Parted:
    start = network.pipes["start_position"].to_numpy(dtype=np.int64)
    end = network.pipes["end_position"].to_numpy(dtype=np.int64)
    valves = network.valves.sort_index()
    pipe, share = along(valves, network.pipes)
    node = standing_node(start, end, pipe=pipe, share=share)
    shut = (valves["state"] == "shut").to_numpy()
    shut_node = np.zeros(len(network.nodes), dtype=bool)
    shut_node[node[shut & (node >= 0)]] = True
    return parted(
        start,
        end,
        nodes_count=len(network.nodes),
        shut_node=shut_node,
        valves=valves,
        valve_node=np.where(shut, -1, node),
    )


def _turned(
    model: Model, pipes_count: int, tap: csr_array, network: Network, settings: Settings
) -> Model:
    """The model with its valves the way water would run were they open, at mean demand."""
    if pipes_count == len(model.link_id):
        return model
    use = expected_use_l_s(network.connections, settings=settings)
    acting = model.kind != Kind.PIPE
    as_pipes = replace(
        model,
        kind=np.full(len(model.kind), int(Kind.PIPE)),
        length_m=np.where(acting, OPEN_LENGTH_M, model.length_m),
        setting_m=np.full(len(model.kind), np.nan),
    )
    flow = solve(as_pipes, np.asarray(use @ tap)).flow_l_s
    back = acting & (flow < 0)
    return replace(
        model,
        start=np.where(back, model.end, model.start),
        end=np.where(back, model.start, model.end),
    )


def _on_nodes(
    things: Any, pipes: Any, parts: Parted, nodes_count: int, *, node_cell: Any = None
) -> csr_array:
    """Weights of the nodes at both ends of each thing's pipe, by its place between them.

    With `node_cell`, an end in another cell than the thing's own (a node on a zone meter) has none
    if the other end is in its cell.
    """
    pipe, share = along(things, pipes)
    row = np.flatnonzero(pipe >= 0)
    first, last = parts.start[pipe[row]], parts.end[pipe[row]]
    at = share[row]
    if node_cell is not None:
        own = things["cell_id"].to_numpy(dtype=object)[row]
        abroad, too = node_cell[first] != own, node_cell[last] != own
        at = np.where(abroad & ~too, 1.0, np.where(too & ~abroad, 0.0, at))
    weights = np.concatenate([1.0 - at, at])
    places = (np.concatenate([row, row]), np.concatenate([first, last]))
    table = csr_array((weights, places), shape=(len(things), nodes_count))
    table.eliminate_zeros()
    return table


def _node_cells(network: Network, parts: Parted) -> Any:
    pipes, count = network.pipes, len(network.nodes) + len(parts.parent)
    cell = np.full(count, "", dtype=object)
    by_pipe = pipes["cell_id"].to_numpy(dtype=object)
    cell[parts.end] = by_pipe
    cell[parts.start] = by_pipe
    into = network.boundaries.set_index("meter_id")
    cut = network.nodes["cut"].astype(str)
    for node in np.flatnonzero(cut.isin(set(into.index)).to_numpy()):
        sides = into.loc[cut.iloc[node]]
        cell[node] = sides["downstream_cell_id"] or sides["upstream_cell_id"]
    return cell
