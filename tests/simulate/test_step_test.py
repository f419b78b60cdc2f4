import networkx as nx
import numpy as np
import pandas as pd
import pytest

from district.schema import check
from district.schema.inputs import STEP_TESTS
from district.simulate.field_story import TEST_ZONE
from district.simulate.scenario import Scenario
from district.simulate.simulated import set_out
from district.simulate.step_test import models_by_step, step_test_table


def test_the_valves_cut_off_the_far_parts_first(year):
    model = year.true.model
    inlet = year.layout.pipes.set_index("device_id")["end"][f"ZM-{TEST_ZONE}"]
    shut: set[str] = set()
    left = []
    for mark in year.tested:
        shut.add(mark.name)
        graph = nx.MultiGraph()
        for link, name in enumerate(model.link_id):
            if model.is_open[link] and name not in shut:
                graph.add_edge(model.start[link], model.end[link], length=model.length_m[link])
        reached = nx.node_connected_component(graph, year.true.node(inlet))
        own = year.true.node_zone == TEST_ZONE
        left.append(sum(own[n] for n in reached))
    assert left == sorted(left, reverse=True)
    # Three sections, each of which leaves markedly fewer nodes on the inlet.
    assert len(set(left)) >= 3
    assert left[-1] < 0.35 * (year.true.node_zone == TEST_ZONE).sum()
    usable = year.devices.valves.set_index("valve_id")["operable"]
    assert usable[[m.name for m in year.tested]].all()


def test_valves_stay_shut_until_all_are_opened(autumn):
    model = autumn.true.model
    models = models_by_step(autumn.clock, model, autumn.tested)
    counts = [int((model.is_open & ~m.is_open).sum()) for m in models.values()]
    assert counts == [*range(1, len(autumn.tested) + 1), 0]
    first = min(models)
    assert str(autumn.clock.local[first]) == "2025-10-17 01:15:00"


def test_outside_the_record_nothing_is_tested(small):
    assert models_by_step(small.clock, small.true.model, small.tested) == {}
    assert len(small.step_tests) == 0


def test_the_table_tells_the_meters_flow_at_the_end_of_each_step(autumn):
    table = autumn.step_tests
    assert check(STEP_TESTS, table.assign(time=pd.to_datetime(table["time"])), source="s")[1] == ()
    assert list(table["valve_id"]) == ["", *(m.name for m in autumn.tested)]
    meter = f"ZM-{TEST_ZONE}"
    ends = pd.to_datetime(table["time"]).dt.tz_localize("Europe/London").dt.tz_convert("UTC")
    true = autumn.flows.meter_l_s[meter].set_axis(autumn.clock.edges()[1:])[ends].to_numpy()
    off = table["flow_l_s"].to_numpy() - true * autumn.errors[meter]
    assert np.abs(off).max() < 0.04


def test_the_drops_hold_the_leaks_of_their_sections(autumn):
    # L6 and L7, 0.9 L/s together, are all that flows much by night.
    flow = autumn.step_tests["flow_l_s"].to_numpy()
    assert flow[0] - flow[-1] > 0.4
    assert -np.diff(flow).min() > 0.35


def test_a_table_of_its_own_draws_the_same(autumn):
    rng = [np.random.default_rng(3) for _ in range(2)]
    tables = [
        step_test_table(autumn.clock, autumn.flows.meter_l_s, autumn.tested, autumn.errors, r)
        for r in rng
    ]
    pd.testing.assert_frame_equal(*tables)


@pytest.mark.parametrize("seed", [1, 2, 11])
def test_every_seed_finds_valves(seed):
    assert set_out(Scenario(days=1, customers_share=0.02), seed=seed).tested
