"""The step test of one zone: which valves are shut one after another, and what its meter tells."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd

from district.hydraulics import Model
from district.simulate.clock import Clock, utc_of
from district.simulate.field_story import SECTIONS, TEST_ID, TEST_START, TEST_ZONE
from district.simulate.layout import Layout
from district.simulate.scenario import STEP_S, TIMEZONE
from district.simulate.true_model import Mark

_MANY = 1000
"""Valves' worth of a joint that cannot be shut."""


def valves_of_test(layout: Layout, valves: gpd.GeoDataFrame) -> tuple[Mark, ...]:
    """The valves of the test in the order they are shut: the fewest that cut off what lies
    farthest from the inlet, then the fewest more for the next section, and so on."""
    pipes = layout.pipes
    inlet = str(pipes.loc[pipes["device_id"] == f"ZM-{TEST_ZONE}", "end"].iloc[0])
    graph, place = _joined(pipes[(pipes["zone_id"] == TEST_ZONE) & (pipes["device"] == "")], valves)
    far = nx.single_source_dijkstra_path_length(graph, place[inlet], weight="length")
    order: list[str] = []
    whole = max(far.values())
    for near_share, far_share in SECTIONS:
        source, sink = len(graph), len(graph) + 1
        near = [n for n, way in far.items() if way <= near_share * whole]
        beyond = [n for n, way in far.items() if way > far_share * whole]
        graph.add_edges_from([(source, n) for n in near], capacity=_MANY)
        graph.add_edges_from([(n, sink) for n in beyond], capacity=_MANY)
        kept, _ = nx.minimum_cut(graph, source, sink)[1]
        cut = [
            data["valve_id"]
            for a, b, data in graph.edges(data=True)
            if "valve_id" in data and data["capacity"] and ((a in kept) != (b in kept))
        ]
        order += sorted(cut)
        for _, _, data in graph.edges(data=True):
            if data.get("valve_id") in cut:
                data["capacity"] = 0
        graph.remove_nodes_from((source, sink))
    by_id = valves.set_index("valve_id")
    return tuple(
        Mark(str(by_id["pipe_id"][name]), float(by_id["share"][name]), name, "valve")
        for name in order
    )


def models_by_step(clock: Clock, model: Model, tested: tuple[Mark, ...]) -> dict[int, Model]:
    """The model from each step on at which the test shuts a valve or opens all again."""
    first = _first_step(clock)
    if first is None:
        return {}
    models = {}
    is_open = model.is_open.copy()
    for number, mark in enumerate(tested, start=1):
        is_open = is_open & (model.link_id != mark.name)
        models[first + number] = replace(model, is_open=is_open)
    models[first + len(tested) + 1] = model
    return models


def step_test_table(
    clock: Clock,
    meters_l_s: pd.DataFrame,
    tested: tuple[Mark, ...],
    errors: pd.Series,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Table `STEP_TESTS`: inflow by the zone's meter at the end of each step; empty outside the
    record."""
    first = _first_step(clock)
    names = ["test_id", "time", "valve_id", "flow_l_s", "spread_l_s"]
    if first is None:
        return pd.DataFrame(columns=names)
    meter = f"ZM-{TEST_ZONE}"
    steps = first + np.arange(len(tested) + 1)
    true = meters_l_s[meter].to_numpy()[steps] * errors[meter]
    ends = (clock.utc[steps] + pd.Timedelta(seconds=STEP_S)).tz_convert(TIMEZONE)
    read = np.round(true + rng.normal(0.0, 0.01, len(steps)), 2).clip(0.0)
    rows = zip(ends.strftime("%Y-%m-%d %H:%M"), ["", *(m.name for m in tested)], read, strict=True)
    return pd.DataFrame([(TEST_ID, *row, 0.02) for row in rows], columns=names)


def _first_step(clock: Clock) -> int | None:
    steps = np.flatnonzero(clock.utc == utc_of(TEST_START))
    return int(steps[0]) if len(steps) else None


def _joined(
    pipes: gpd.GeoDataFrame, valves: gpd.GeoDataFrame
) -> tuple[nx.Graph[int], dict[str, int]]:
    """Pipes cut at their valves, as a graph with lengths; a valve that turns has capacity 1.

    Nodes are numbers, so that nothing hangs on how strings are hashed; their places by name.
    """
    usable = valves[valves["operable"].astype(bool) & (valves["kind"] == "isolation")]
    graph: nx.Graph[int] = nx.Graph()
    place: dict[str, int] = {}

    def put(name: str) -> int:
        return place.setdefault(name, len(place))

    for pipe in pipes.itertuples():
        at, begin = put(pipe.start), 0.0
        own = usable[usable["pipe_id"] == pipe.pipe_id].sort_values("share")
        for valve in own.itertuples():
            near, far = put(f"{valve.valve_id} near"), put(f"{valve.valve_id} far")
            length = pipe.geometry.length * (valve.share - begin)
            graph.add_edge(at, near, length=length, capacity=_MANY)
            graph.add_edge(near, far, length=0.0, capacity=1, valve_id=valve.valve_id)
            at, begin = far, valve.share
        length = pipe.geometry.length * (1.0 - begin)
        graph.add_edge(at, put(pipe.end), length=length, capacity=_MANY)
    return graph, place
