from datetime import date

import numpy as np
import pytest

from district.simulate.draws import drawn_at_nodes, other_use
from district.simulate.scenario import Scenario
from district.simulate.simulated import set_out
from district.simulate.states import leaking, opened_slightly, solved


@pytest.fixture(scope="module")
def day():
    return set_out(Scenario(first=date(2025, 3, 20), days=1, customers_share=0.2), seed=3)


@pytest.fixture(scope="module")
def openings(day):
    drawn = drawn_at_nodes(
        day.clock,
        day.layout,
        day.true,
        day.customers,
        day.use,
        weights=day.weights,
        buildings_l_s=day.use.building_l_s,
        other_l_s=other_use(day.clock),
    )
    background = np.full(len(day.true.node_zone), 1e-3)
    return drawn, leaking(day.clock, day.true, drawn, day.leaks, background)


def test_background_flows_as_stated_at_50_m(openings):
    _, holes = openings
    plain = np.setdiff1d(np.arange(len(holes.coefficient)), holes.node)
    np.testing.assert_allclose(holes.coefficient[plain] * 50**1.5, 1e-3)


def test_a_leak_flows_as_stated_at_its_places_ordinary_pressure(openings, day):
    _, holes = openings
    step = 50
    given = holes.openings(step)
    flow = given.coefficient[holes.node] * holes.reference_m ** given.exponent[holes.node]
    np.testing.assert_allclose(flow, holes.course_l_s[step])
    assert set(given.exponent[holes.node]) == set(day.leaks["exponent"])
    assert ((holes.reference_m > 25) & (holes.reference_m < 70)).all()


def test_water_is_in_balance_at_every_node(openings, day):
    drawn, holes = openings
    states = next(iter(solved(day.clock, day.layout, day.true, drawn, holes)))
    model = day.true.model
    wanted = drawn.node_l_s(states.steps)
    net = np.zeros_like(wanted)
    for link, (start, end) in enumerate(zip(model.start, model.end, strict=True)):
        net[:, end] += states.flow_l_s[:, link]
        net[:, start] -= states.flow_l_s[:, link]
    free = np.isnan(model.fixed_head_m)
    gone = wanted - states.missed_l_s + states.leakage_l_s
    assert np.abs(net - gone)[:, free].max() < 1e-7


def test_a_valve_left_a_turn_open_passes_by_its_loss(day):
    pipe = day.layout.pipes.set_index("device_id")["pipe_id"]["BV-C4V3"]
    link = day.true.piece(pipe, 0.5)[0]
    model = opened_slightly(day.true.model, link)
    assert not day.true.model.is_open[link]
    assert model.is_open[link]
    assert model.minor_k[link] > 1000
    assert (np.delete(model.minor_k, link) == 0).all()
