"""What the network is must not depend on how its layers happen to be stored.

The order of rows, the direction a pipe was digitised in and the coordinate reference system say
nothing about the ground, so they may change neither cells nor boundaries nor what stands where.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from district.network import Network, build_network
from district.results import Inputs
from district.schema import check
from district.schema.columns import Table
from district.schema.inputs import LAYERS, RECORDS
from district.settings import Settings
from tests.examples import examples

EAST_M, NORTH_M = 560000.0, 5700000.0
CRS = 32630
OTHER_CRS = (27700, 3035, 2154, 25831)
"""National and continental grids that reach the place: other origins, axes and scales."""
SCALE_SHARE = 5e-3
"""The largest scale difference of these grids there."""
COLUMNS, ROWS = 4, 3
TABLES: dict[str, Table] = {t.name: t for t in (*LAYERS, *RECORDS)}
# Streets are never quite square; a square grid would make equal lengths, and ties.
BENDS_M = np.random.default_rng(20250301).uniform(-12, 12, (COLUMNS, ROWS, 2)).round(2)


@dataclass(frozen=True)
class Town:
    """What Hypothesis may choose of a small town of two zones."""

    bends_m: tuple[int, ...]
    missing: frozenset[int]
    at_edge: tuple[str, ...]
    along: tuple[float, ...]
    inlet: bool
    ring: bool
    users: tuple[tuple[int, int], ...]


TOWNS = st.builds(
    Town,
    bends_m=st.tuples(*[st.integers(-5, 5)] * (2 * COLUMNS * ROWS)),
    missing=st.frozensets(st.integers(0, 16), max_size=4),
    at_edge=st.tuples(*[st.sampled_from(["meter", "shut", "open", "none"])] * ROWS),
    along=st.tuples(*[st.floats(0.2, 0.8)] * ROWS),
    inlet=st.booleans(),
    ring=st.booleans(),
    users=st.lists(
        st.tuples(st.integers(-40, 340), st.integers(-40, 240)), min_size=1, max_size=6
    ).map(tuple),
)


def _at(x_m: float, y_m: float) -> Point:
    return Point(EAST_M + x_m, NORTH_M + y_m)


def _streets(town: Town) -> list[dict[str, Any]]:
    bends = BENDS_M + np.array(town.bends_m).reshape(BENDS_M.shape)
    node = {
        (i, j): (EAST_M + 100 * i + bends[i, j, 0], NORTH_M + 100 * j + bends[i, j, 1])
        for i in range(COLUMNS)
        for j in range(ROWS)
    }
    across = [((i, j), (i + 1, j)) for j in range(ROWS) for i in range(COLUMNS - 1)]
    up = [((i, j), (i, j + 1)) for i in range(COLUMNS) for j in range(ROWS - 1)]
    rows = [
        {"pipe_id": f"P{n}", "geometry": LineString([node[a], node[b]])}
        for n, (a, b) in enumerate([*across, *up])
        if n not in town.missing
    ]
    x_m, y_m = node[0, 0]
    rows.append({"pipe_id": "TRUNK", "geometry": LineString([(x_m - 90, y_m - 7), (x_m, y_m)])})
    # A spur that stops 0.3 m short of the trunk's middle: it tees off there. Another is drawn
    # twice, and a main that leaves the trunk crosses back over it.
    spur = LineString([(x_m - 45, y_m - 3.2), (x_m - 47, y_m + 40)])
    rows.append({"pipe_id": "SPUR", "geometry": spur})
    rows.append({"pipe_id": "SPUR2", "geometry": LineString([*spur.reverse().coords])})
    over = LineString([(x_m - 90, y_m - 7), (x_m - 70, y_m + 20), (x_m - 60, y_m - 60)])
    rows.append({"pipe_id": "OVER", "geometry": over})
    if town.ring:
        x_m, y_m = node[COLUMNS - 1, ROWS - 1]
        loop = Polygon([(x_m, y_m), (x_m + 60, y_m + 5), (x_m + 55, y_m + 71), (x_m - 8, y_m + 50)])
        rows.append({"pipe_id": "RING", "geometry": LineString(loop.exterior.coords)})
    return rows


def _town(town: Town) -> Inputs:
    pipes = _streets(town)
    line = {p["pipe_id"]: p["geometry"] for p in pipes}
    valves: list[dict[str, Any]] = []
    meters: list[dict[str, Any]] = []
    if town.inlet:
        spot = line["TRUNK"].interpolate(0.8, normalized=True)
        meters.append({"meter_id": "M0", "geometry": spot, "role": "inlet", "downstream": "WEST"})
    for row, (kind, along) in enumerate(zip(town.at_edge, town.along, strict=True)):
        pipe_id = f"P{row * (COLUMNS - 1) + 1}"
        if pipe_id not in line or kind == "none":
            continue
        spot = line[pipe_id].interpolate(along, normalized=True)
        if kind == "meter":
            name = {"meter_id": f"M{row + 1}", "role": "transfer", "downstream": "EAST"}
            meters.append({**name, "geometry": spot})
        else:
            valves.append({"valve_id": f"V{row + 1}", "geometry": spot, "state": kind})
    if town.ring:
        spot = line["RING"].interpolate(0.3, normalized=True)
        valves.append({"valve_id": "V9", "geometry": spot, "state": "shut"})
    west = box(EAST_M - 70, NORTH_M - 70, EAST_M + 150, NORTH_M + 350)
    east = box(EAST_M + 150, NORTH_M - 70, EAST_M + 450, NORTH_M + 350)
    rows: dict[str, list[dict[str, Any]]] = {
        "pipes": pipes,
        "valves": valves,
        "meters": meters,
        "zones": [
            {"zone_id": "WEST", "geometry": west},
            {"zone_id": "EAST", "geometry": east, "parent_id": "WEST"},
        ],
        "connections": [
            {"connection_id": f"C{n}", "geometry": _at(*xy), "properties": n + 1}
            for n, xy in enumerate(town.users)
        ],
        "sensors": [{"sensor_id": "L1", "geometry": _at(205, 103), "kind": "pressure"}],
        "sources": [{"source_id": "SPRING", "geometry": Point(line["TRUNK"].coords[0])}],
        "works": [],
        "breaks": [],
    }
    return Inputs(**{n: _table(n, r) for n, r in rows.items()}, defaults=pd.DataFrame())


def _table(name: str, rows: list[dict[str, Any]]) -> Any:
    table = TABLES[name]
    frame: Any = pd.DataFrame(rows, columns=list(table.names()), dtype=None if rows else object)
    if table.geometry is not None:
        frame = gpd.GeoDataFrame(frame, geometry="geometry", crs=CRS)
    tidy, findings = check(table, frame, source=name)
    assert findings == ()
    return tidy


def _changed(inputs: Inputs, change: Any) -> Inputs:
    tables = {f.name: getattr(inputs, f.name) for f in fields(inputs)}
    return replace(
        inputs, **{n: change(t) for n, t in tables.items() if isinstance(t, gpd.GeoDataFrame)}
    )


def _assert_same(one: Network, two: Network, *, length_share: float) -> None:
    """The same but for lengths, which may differ by a share."""
    loose = {"rtol": length_share, "atol": 0.0} if length_share else {"rtol": 0.0, "atol": 0.0}
    for name in ("cells", "boundaries"):
        pd.testing.assert_frame_equal(getattr(one, name), getattr(two, name), **loose)
    for name in ("pipes", "valves", "meters", "connections", "sensors", "sources", "nodes"):
        first, second = getattr(one, name), getattr(two, name)
        pd.testing.assert_frame_equal(
            pd.DataFrame(first.drop(columns="geometry")),
            pd.DataFrame(second.drop(columns="geometry")),
            **loose,
        )
        here = second.geometry.to_crs(first.crs)
        if name in ("pipes", "nodes"):
            assert first.geometry.geom_equals_exact(here, tolerance=0.01).all()
    about = ["what", "pipe_id", "other_id"]
    assert one.repairs[about].equals(two.repairs[about])
    gaps_m = two.repairs["distance_m"].to_numpy()
    np.testing.assert_allclose(gaps_m, one.repairs["distance_m"], rtol=length_share, atol=0.0011)
    assert one.findings == two.findings


def _built(inputs: Inputs) -> Network:
    return build_network(inputs, settings=Settings())


@hypothesis_settings(deadline=None, max_examples=examples(12))
@given(town=TOWNS, seed=st.integers(0, 2**32 - 1))
def test_the_order_of_rows_changes_nothing(town: Town, seed: int) -> None:
    inputs = _town(town)
    shuffled = _changed(
        inputs, lambda t: t.sample(frac=1, random_state=seed).reset_index(drop=True)
    )
    _assert_same(_built(inputs), _built(shuffled), length_share=0.0)


@hypothesis_settings(deadline=None, max_examples=examples(12))
@given(town=TOWNS, turned=st.frozensets(st.integers(0, 21)))
def test_the_direction_of_digitising_changes_nothing(town: Town, turned: frozenset[int]) -> None:
    inputs = _town(town)
    lines = [g.reverse() if n in turned else g for n, g in enumerate(inputs.pipes.geometry)]
    pipes = inputs.pipes.set_geometry(gpd.GeoSeries(lines, crs=CRS))
    _assert_same(_built(inputs), _built(replace(inputs, pipes=pipes)), length_share=0.0)


@pytest.mark.parametrize("crs", OTHER_CRS)
@hypothesis_settings(deadline=None, max_examples=examples(4))
@given(town=TOWNS)
def test_the_reference_system_changes_nothing_but_the_scale(crs: int, town: Town) -> None:
    inputs = _town(town)
    # A layer that is not there has no system.
    moved = _changed(inputs, lambda t: t if t.crs is None else t.to_crs(crs))
    _assert_same(_built(inputs), _built(moved), length_share=SCALE_SHARE)


def test_the_town_has_what_could_go_wrong() -> None:
    """Both zones, a tee, a split ring and every device are there: the properties say something."""
    town = Town(
        bends_m=(0,) * (2 * COLUMNS * ROWS),
        missing=frozenset(),
        at_edge=("meter", "shut", "shut"),
        along=(0.5, 0.4, 0.6),
        inlet=True,
        ring=True,
        users=((50, 3), (250, 3)),
    )
    network = _built(_town(town))
    assert list(network.cells.index) == ["EAST", "WEST", "supply SPRING"]
    assert network.boundaries["meter_id"].tolist() == ["M0", "M1"]
    assert {"RING/1", "RING/2", "TRUNK/1", "TRUNK/2", "TRUNK/3"} <= set(network.pipes.index)
    assert network.connections["cell_id"].to_dict() == {"C0": "WEST", "C1": "EAST"}
    assert network.findings == ()
    told = network.repairs[network.repairs["what"] != "split_at_device"]
    assert told[["what", "pipe_id", "other_id"]].to_numpy().tolist() == [
        ["duplicate", "SPUR2", "SPUR"],
        ["tee", "SPUR", "TRUNK"],
        ["crossing", "OVER", "TRUNK"],
    ]
