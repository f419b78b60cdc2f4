"""Tests of `district.hydraulics.drawing`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest
from shapely.geometry import Point

from district.hydraulics import Drawn, draw_model, solve
from district.network import Network, build_network
from district.results import Inputs
from district.schema.inputs import SENSORS, VALVES
from district.settings import Settings
from tests.network.conftest import layer

SETTINGS = Settings()


def _network(with_layers: Callable[..., Inputs], **changes: object) -> Network:
    sources = with_layers().sources.assign(head_m=90.0)
    return build_network(with_layers(**{"sources": sources, **changes}), settings=SETTINGS)


def test_a_drawn_network_conserves_mass_and_reaches_all(with_layers: Callable[..., Inputs]) -> None:
    drawn = draw_model(_network(with_layers), settings=SETTINGS)
    demand = np.array([0.3, 0.2, 0.1]) @ drawn.tap
    assert demand.sum() == pytest.approx(0.6)
    state = solve(drawn.model, np.asarray(demand))
    assert state.reached.all()
    supply = np.flatnonzero(np.isfinite(drawn.model.fixed_head_m))
    out = drawn.model.start == supply[0]
    into = drawn.model.end == supply[0]
    assert state.flow_l_s[out].sum() - state.flow_l_s[into].sum() == pytest.approx(0.6, abs=1e-8)


def test_connections_and_loggers_lie_between_the_ends_of_their_pipe(
    with_layers: Callable[..., Inputs],
) -> None:
    sensors = layer(SENSORS, sensor_id=["P1", "P0"], geometry=[Point(450, 1), Point(25, 0)],
                    kind=["pressure"] * 2, elevation_m=[4.0, None])  # fmt: skip
    network = _network(with_layers, sensors=sensors)
    drawn = draw_model(network, settings=SETTINGS)
    assert drawn.logger_id.tolist() == ["P0", "P1"]
    assert np.isnan(drawn.logger_level_m[0])
    assert drawn.logger_level_m[1] == 4.0
    np.testing.assert_allclose(drawn.watch.sum(axis=1), 1.0)
    np.testing.assert_allclose(drawn.tap.sum(axis=1), 1.0)
    b2 = network.pipes.loc["B2"]
    row = drawn.watch.toarray()[1]
    assert row[b2["start_position"]] == pytest.approx(0.75)
    assert row[b2["end_position"]] == pytest.approx(0.25)
    # Where the head is linear along the pipe, so is what the logger sees: exactly.
    head = network.nodes.geometry.x.to_numpy()
    head = np.append(head, head[: len(drawn.model.node_id) - len(head)])
    assert (drawn.watch @ head).tolist() == pytest.approx([25.0, 450.0])


def test_what_is_drawn_beside_a_zone_meter_stays_in_its_cell(
    with_layers: Callable[..., Inputs],
) -> None:
    connections = with_layers().connections.copy()
    connections.loc[0, "geometry"] = Point(290, 8)  # on the last metres of A before meter M2
    drawn = draw_model(_network(with_layers, connections=connections), settings=SETTINGS)
    cells = drawn.node_cell[drawn.tap.toarray()[0] > 0]
    assert set(cells) == {"A"}


def test_a_shut_valve_parts_the_water(with_layers: Callable[..., Inputs]) -> None:
    drawn = draw_model(_network(with_layers), settings=SETTINGS)
    state = solve(drawn.model, np.asarray(np.array([0.0, 0.5, 0.0]) @ drawn.tap))
    flow = dict(zip(drawn.model.link_id, np.abs(state.flow_l_s), strict=True))
    assert flow["A3"] == pytest.approx(0.0, abs=1e-6)
    assert flow["A2/3"] == pytest.approx(0.5)


def test_a_reducing_valve_holds_its_setting(with_layers: Callable[..., Inputs]) -> None:
    valves = layer(
        VALVES,
        valve_id=["V1", "R"],
        geometry=[Point(320, 100), Point(350, 0)],
        kind=["boundary", "pressure_reducing"],
        state=["shut", "open"],
        setting_m=[np.nan, 30.0],
    )
    drawn = draw_model(_network(with_layers, valves=valves), settings=SETTINGS)
    state = solve(drawn.model, np.asarray(np.array([0.1, 0.2, 0.1]) @ drawn.tap))
    behind = drawn.model.end[-1]
    assert state.head_m[behind] - drawn.model.elevation_m[behind] == pytest.approx(30.0)
    assert state.head_m[drawn.model.start[-1]] > state.head_m[behind] + 5.0


def test_the_order_of_rows_changes_nothing(with_layers: Callable[..., Inputs]) -> None:
    def of(turned: bool) -> Drawn:
        inputs = with_layers()
        names = ("pipes", "valves", "meters", "zones", "connections", "sensors", "sources")
        layers = {n: getattr(inputs, n) for n in names}
        if turned:
            layers = {n: t.iloc[::-1].reset_index(drop=True) for n, t in layers.items()}
        layers["sources"] = layers["sources"].assign(head_m=90.0)
        return draw_model(build_network(with_layers(**layers), settings=SETTINGS),
                          settings=SETTINGS)  # fmt: skip

    one, other = of(False), of(True)
    for part in fields(one.model):
        a, b = getattr(one.model, part.name), getattr(other.model, part.name)
        np.testing.assert_array_equal(a, b, err_msg=part.name)
    np.testing.assert_array_equal(one.tap.toarray(), other.tap.toarray())
    np.testing.assert_array_equal(one.watch.toarray(), other.watch.toarray())
    assert one.assumed == other.assumed


def test_every_node_knows_its_cell(with_layers: Callable[..., Inputs]) -> None:
    network = _network(with_layers)
    drawn = draw_model(network, settings=SETTINGS)
    meter = network.nodes.index.get_indexer(network.nodes.index[network.nodes["cut"] == "M1"])[0]
    assert drawn.node_cell[meter] == "A"
    assert set(drawn.node_cell) == {"A", "B", "supply S"}
