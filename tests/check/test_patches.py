from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.check.patches import zone_patches
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]


def _patches(inputs: Inputs) -> tuple[list[tuple[str, str, float, int]], pd.DataFrame]:
    patches, joints = zone_patches(build_network(inputs, settings=Settings()))
    rows = patches[["zone_id", "cell_id", "length_m", "connections_count"]]
    told = [(z, c, round(length_m, 3), int(n)) for z, c, length_m, n in rows.to_numpy()]
    return sorted(told), joints


def test_patches_of_a_clean_district(inputs: Inputs) -> None:
    # By hand: T1 100 + A2 100 + A3 200 m in MILL; A2 100 + B2 200 + B3 190 m in QUAY, and the
    # 10 m of B3 between the edge and the shut valve, which hang on MILL's pipes.
    patches, joints = _patches(inputs)
    assert patches == [
        ("", "supply S", 100.0, 0),
        ("MILL", "MILL", 400.0, 1),
        ("QUAY", "MILL", 10.0, 0),
        ("QUAY", "QUAY", 490.0, 2),
    ]
    assert joints[["one_pipe_id", "two_pipe_id"]].to_numpy().tolist() == [["A3", "B3"]]


def test_a_pipe_over_an_edge_is_cut_there(inputs: Inputs, add: Change) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(250, 0), (250, -30), (340, -30)])}
    patches, joints = _patches(add(inputs, "pipes", row))
    assert ("MILL", "MILL", 480.0, 1) in patches
    assert ("QUAY", "MILL", 40.0, 0) in patches
    crossing = joints[joints["one_pipe_id"] == "X1"]
    assert crossing["two_pipe_id"].tolist() == ["X1"]


def test_a_connection_counts_where_it_is_nearest(inputs: Inputs, add: Change) -> None:
    row = {"pipe_id": "X1", "geometry": LineString([(250, 0), (250, -30), (340, -30)])}
    user = {"connection_id": "D1", "geometry": Point(330, -33)}
    patches, _ = _patches(add(add(inputs, "pipes", row), "connections", user))
    assert ("QUAY", "MILL", 40.0, 1) in patches


def test_lengths_of_patches_sum_to_the_pipes(inputs: Inputs) -> None:
    network = build_network(inputs, settings=Settings())
    patches, _ = zone_patches(network)
    assert patches["length_m"].sum() == pytest.approx(network.pipes.length.sum())
