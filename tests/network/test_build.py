from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.network import build_network
from district.results import Inputs
from district.settings import Settings


@pytest.fixture
def settings() -> Settings:
    return Settings()


def test_devices_split_their_pipe_and_lengths_add_up(inputs: Inputs, settings: Settings) -> None:
    network = build_network(inputs, settings=settings)
    assert list(network.pipes.index) == [
        "A2/1", "A2/2", "A2/3", "A3", "B2", "B3/1", "B3/2", "T1/1", "T1/2",
    ]  # fmt: skip
    drawn = inputs.pipes.set_index("pipe_id").length
    summed = network.pipes.groupby("layer_pipe_id")["length_m"].sum()
    np.testing.assert_allclose(summed, drawn.reindex(summed.index))
    assert sorted(network.nodes["cut"][network.nodes["cut"] != ""]) == ["M1", "M2", "V1"]
    assert network.findings == ()


def test_cells_follow_meters_and_shut_valves(inputs: Inputs, settings: Settings) -> None:
    network = build_network(inputs, settings=settings)
    assert list(network.cells.index) == ["A", "B", "supply S"]
    assert network.cells["name"].to_dict() == {"A": "Upper", "B": "B", "supply S": "supply S"}
    assert network.cells["parent_cell_id"].to_dict() == {"A": "", "B": "A", "supply S": ""}
    assert network.pipes["cell_id"].to_dict() == {
        "T1/1": "supply S", "T1/2": "A", "A2/1": "A", "A2/2": "A", "A3": "A",
        "A2/3": "B", "B2": "B", "B3/1": "A", "B3/2": "B",
    }  # fmt: skip
    sides = network.boundaries[["meter_id", "upstream_cell_id", "downstream_cell_id"]]
    assert sides.to_numpy().tolist() == [["M1", "supply S", "A"], ["M2", "A", "B"]]


def test_what_stands_in_a_cell(inputs: Inputs, settings: Settings) -> None:
    network = build_network(inputs, settings=settings)
    assert network.connections["cell_id"].to_dict() == {"c1": "A", "c2": "B", "c3": "B"}
    assert network.meters["cell_id"].to_dict() == {"C1": "A", "M1": "", "M2": ""}
    assert network.cells.loc["B", "properties_count"] == 6
    assert network.cells.loc["B", "elevation_m"] == pytest.approx(25.0)
    assert network.sensors.loc["P1", "cell_id"] == "B"


def test_an_open_boundary_valve_joins_the_cells(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    inputs = with_layers()
    opened = inputs.valves.assign(state="open")
    network = build_network(with_layers(valves=opened), settings=settings)
    assert "A+B" in network.cells.index
    assert [f.sentence() for f in network.findings] == [
        "meters, meter M2: got the same zone, A+B, on both sides: water can pass around the "
        "meter, expected its two sides parted by meters and shut valves. Check the state of the "
        "boundary valves around it; until then it is left out."
    ]


def test_ends_within_the_tolerance_are_joined(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    pipes = with_layers().pipes.copy()
    pipes.loc[pipes["pipe_id"] == "B2", "geometry"] = LineString([(400.3, 0.2), (600, 0)])
    network = build_network(with_layers(pipes=pipes), settings=settings)
    assert network.pipes.at["B2", "cell_id"] == "B"


def test_a_pipe_that_ends_on_another_splits_it(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    pipes = with_layers().pipes.copy()
    pipes.loc[pipes["pipe_id"] == "B3", "geometry"] = LineString([(450, 0), (450, 100), (300, 100)])
    network = build_network(with_layers(pipes=pipes), settings=settings)
    assert {"B2/1", "B2/2"} <= set(network.pipes.index)
    assert network.pipes.at["B2/2", "length_m"] == pytest.approx(150.0)


def test_crossing_pipes_do_not_meet(with_layers: Callable[..., Inputs], settings: Settings) -> None:
    pipes = with_layers().pipes.copy()
    pipes.loc[pipes["pipe_id"] == "B2", "geometry"] = LineString([(250, -40), (250, 40)])
    network = build_network(with_layers(pipes=pipes), settings=settings)
    assert network.pipes.at["B2", "cell_id"] not in ("A", "B")


def test_a_valve_beside_a_junction_does_not_close_the_junction(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    valves = with_layers().valves.copy()
    valves.loc[valves["valve_id"] == "V1", "geometry"] = Point(400, 0.3)
    network = build_network(with_layers(valves=valves), settings=settings)
    assert network.pipes.at["B2", "cell_id"] == network.pipes.at["A2/3", "cell_id"] == "B"
    assert network.pipes.at["B3/1", "cell_id"] == "A"


def test_a_shut_valve_on_a_junction_is_refused(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    valves = with_layers().valves.copy()
    valves.loc[valves["valve_id"] == "V1", "geometry"] = Point(400, 0)
    network = build_network(with_layers(valves=valves), settings=settings)
    assert network.findings[0].sentence() == (
        "valves, shut valve V1, column geometry: got a point on a junction of 3 pipes, expected "
        "a point on one pipe, so that it is known which one it closes. Move it along its pipe, "
        "at least 0.05 m from the junction."
    )


def test_a_meter_naming_the_wrong_zone_is_refused(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    meters = with_layers().meters.copy()
    meters.loc[meters["meter_id"] == "M1", "downstream"] = "B"
    network = build_network(with_layers(meters=meters), settings=settings)
    assert network.findings[0].sentence() == (
        'meters, meter M1, column downstream: got "B", expected the zone on one of its sides: '
        "A or supply S. Name the zone that positive flow goes to."
    )


def test_far_connections_are_told_and_left_out(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    connections = with_layers().connections.copy()
    connections.loc[0, "geometry"] = Point(250, 4000)
    network = build_network(with_layers(connections=connections), settings=settings)
    assert network.connections.at["c1", "cell_id"] == ""
    assert network.findings[0].place == "connection c1"


def test_connections_without_any_meter(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    connections = with_layers().connections.assign(meter_id=None)
    network = build_network(with_layers(connections=connections), settings=settings)
    assert network.meters["cell_id"].to_dict() == {"C1": "A", "M1": "", "M2": ""}


def test_the_inputs_are_not_written_to(inputs: Inputs, settings: Settings) -> None:
    before = {n: getattr(inputs, n).copy() for n in ("pipes", "valves", "meters", "connections")}
    build_network(inputs, settings=settings)
    for name, frame in before.items():
        assert frame.equals(getattr(inputs, name)), name


def test_two_meters_at_one_point_are_told(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    meters = with_layers().meters
    twin = meters[meters["meter_id"] == "M2"].assign(meter_id="M9")
    both = with_layers(meters=pd.concat([meters, twin], ignore_index=True))
    found = [f.sentence() for f in build_network(both, settings=settings).findings]
    assert found[0] == (
        "meters, zone meter M9, column geometry: got the point at which meter M2 stands, "
        "expected a point of its own, as only one meter can part the pipe there. Draw each meter "
        "on the pipe it measures, or remove the one that is no longer read."
    )


def test_a_pipe_named_like_a_part_of_another(
    with_layers: Callable[..., Inputs], settings: Settings
) -> None:
    pipes = with_layers().pipes
    named = pipes.assign(pipe_id=pipes["pipe_id"].replace({"A3": "A2/1"}))
    network = build_network(with_layers(pipes=named), settings=settings)
    assert list(network.pipes.index) == [
        "A2//1", "A2/2", "A2/3", "A2/1", "B2", "B3/1", "B3/2", "T1/1", "T1/2",
    ]  # fmt: skip
    whole = named.set_index("pipe_id").length
    summed = network.pipes.groupby("layer_pipe_id")["length_m"].sum()
    np.testing.assert_allclose(summed, whole.reindex(summed.index))
