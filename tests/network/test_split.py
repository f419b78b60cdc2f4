from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point
from shapely.ops import substring

from district.network import Network, build_network
from district.network.split import cut_lines
from district.results import Inputs
from district.settings import Settings
from tests.examples import examples
from tests.network.conftest import PIPES, layer, make_inputs

Layers = Callable[..., Inputs]


def _with(layers: Layers, **lines: LineString) -> Network:
    """The small district with more pipes."""
    pipes = layers().pipes
    more = pipes.iloc[[0] * len(lines)].assign(pipe_id=list(lines))
    more = more.set_geometry(gpd.GeoSeries(list(lines.values()), index=more.index, crs=pipes.crs))
    frame = pd.concat([pipes, more], ignore_index=True)
    return build_network(layers(pipes=frame), settings=Settings())


def test_pieces_are_numbered_along_the_line_and_keep_its_corners() -> None:
    lines = np.array(
        [
            LineString([(0, 0), (3, 0), (3, 4)]),
            LineString([(9, 9), (9, 8)]),
            LineString([(0, 0), (6, 0)]),
        ]
    )
    pieces, origin, start, end = cut_lines(lines, np.array([0, 0, 2]), np.array([1.0, 3.0, 2.5]))
    assert [p.wkt for p in pieces] == [
        "LINESTRING (0 0, 1 0)",
        "LINESTRING (1 0, 3 0)",
        "LINESTRING (3 0, 3 4)",
        "LINESTRING (9 9, 9 8)",
        "LINESTRING (0 0, 2.5 0)",
        "LINESTRING (2.5 0, 6 0)",
    ]
    assert origin.tolist() == [0, 0, 0, 1, 2, 2]
    assert list(zip(start, end, strict=True)) == [(0, 6), (6, 7), (7, 1), (2, 3), (4, 8), (8, 5)]


coordinate = st.integers(-500, 500).map(lambda n: n / 4)
path = st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=9).map(LineString)


@given(
    st.lists(st.tuples(path, st.sets(st.floats(0.05, 0.95), max_size=4)), min_size=1, max_size=6)
)
def test_cutting_agrees_with_shapely(given_lines: list[tuple[LineString, set[float]]]) -> None:
    # Shapely's substring as the independent library.
    kept = [(line, sorted(shares)) for line, shares in given_lines if line.length > 1.0]
    lines = np.array([line for line, _ in kept], dtype=object)
    marks = [(n, share * line.length) for n, (line, shares) in enumerate(kept) for share in shares]
    marks = [
        m
        for i, m in enumerate(marks)
        if i == 0 or marks[i - 1][0] != m[0] or m[1] - marks[i - 1][1] > 0.05
    ]
    pieces, origin, _, _ = cut_lines(
        lines, np.array([m[0] for m in marks], dtype=np.intp), np.array([m[1] for m in marks])
    )
    expected = []
    for n, (line, _) in enumerate(kept):
        stops = [0.0, *(along for line_of, along in marks if line_of == n), line.length]
        expected += [substring(line, a, b) for a, b in pairwise(stops)]
    assert shapely.length(pieces) == pytest.approx([p.length for p in expected], abs=1e-6)
    for piece, other in zip(pieces, expected, strict=True):
        assert piece.hausdorff_distance(other) < 1e-6
    summed = np.bincount(origin, weights=shapely.length(pieces), minlength=len(lines))
    assert summed == pytest.approx(shapely.length(lines))


@hypothesis_settings(deadline=None, max_examples=examples(12))
@given(st.lists(st.tuples(path, st.sampled_from([None, 7.5, 120.0])), min_size=1, max_size=12))
def test_no_length_is_lost_or_made(rows: list[tuple[LineString, float | None]]) -> None:
    names = [f"P{n:02d}" for n in range(len(rows))]
    pipes = layer(
        PIPES, pipe_id=names, geometry=[line for line, _ in rows], length_m=[m for _, m in rows]
    )
    network = build_network(make_inputs(pipes=pipes), settings=Settings())
    out = network.repairs["what"].isin(["zero_length", "duplicate"])
    kept = pipes[~pipes["pipe_id"].isin(network.repairs["pipe_id"][out])].set_index("pipe_id")
    said = kept["length_m"].fillna(kept.geometry.length)
    summed = network.pipes.groupby("layer_pipe_id")["length_m"].sum()
    assert list(summed.index) == list(kept.index)
    assert summed.to_numpy() == pytest.approx(said.to_numpy())


def test_an_end_beside_the_end_of_another_pipe_joins_it(with_layers: Layers) -> None:
    # 0.45 m along and 0.45 m beside: within reach of the line, though not of its end.
    network = _with(with_layers, X=LineString([(400.45, 0.45), (430, 50)]))
    assert network.pipes.at["X", "cell_id"] == "B"
    assert "B2" in network.pipes.index  # No sliver is cut off.


def test_a_pipe_that_comes_back_to_itself_is_split_there(with_layers: Layers) -> None:
    line = LineString([(600, 0), (640, 0), (640, 20), (620, 20), (620, 0)])
    network = _with(with_layers, X=line)
    parts = network.pipes.loc[["X/1", "X/2"]]
    assert parts["length_m"].to_numpy() == pytest.approx([20, 80])
    assert parts.at["X/2", "start_position"] == parts.at["X/2", "end_position"]


def test_a_pipe_that_crosses_itself_survives(with_layers: Layers) -> None:
    line = LineString([(600, 0), (640, 0), (640, 20), (620, 20), (620, -30)])
    network = _with(with_layers, X=line)
    assert network.pipes.at["X", "length_m"] == pytest.approx(line.length)


def test_heights_and_corners_drawn_twice_change_nothing(with_layers: Layers) -> None:
    pipes = with_layers().pipes
    high = [
        LineString([(*xy, 7.0) for xy in line.coords for _ in range(2)]) for line in pipes.geometry
    ]
    odd = pipes.set_geometry(gpd.GeoSeries(high, index=pipes.index, crs=pipes.crs))
    one = build_network(with_layers(), settings=Settings())
    two = build_network(with_layers(pipes=odd), settings=Settings())
    assert one.pipes.geom_equals_exact(two.pipes.geometry, tolerance=0).all()
    assert one.nodes.geom_equals_exact(two.nodes.geometry, tolerance=0).all()


def test_a_network_without_pipes(with_layers: Layers) -> None:
    network = build_network(with_layers(pipes=with_layers().pipes.iloc[:0]), settings=Settings())
    assert network.pipes.empty
    assert network.repairs.empty


def test_a_network_of_nothing_but_slips(with_layers: Layers) -> None:
    pipes = with_layers().pipes.iloc[:1]
    dot = pipes.set_geometry(gpd.GeoSeries([LineString([(5, 5), (5, 5)])], crs=pipes.crs))
    network = build_network(with_layers(pipes=dot), settings=Settings())
    assert network.pipes.empty
    assert network.repairs["what"].tolist() == ["zero_length"]


def test_devices_at_both_ends_and_inside(with_layers: Layers) -> None:
    valves = with_layers().valves
    at = gpd.GeoSeries([Point(600, 0), Point(599.9, 0.1)], index=valves.index, crs=valves.crs)
    network = build_network(with_layers(valves=valves.set_geometry(at)), settings=Settings())
    assert network.pipes.loc["B2/2", "length_m"] == pytest.approx(0.1)
    assert network.nodes["cut"].tolist().count("V1") == 1
