from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import solve
from district.simulate.demand import Use
from district.simulate.flows import run_flows
from district.simulate.scenario import ZONE_IDS, Scenario
from district.simulate.simulated import set_out
from district.simulate.true_model import Mark, true_model, true_roughness

FEEDS = {  # zone: meters that bring water, meters that take it away
    "T": (["ZM-T"], ["ZM-C1", "ZM-C4", "ZM-V1", "ZM-V2", "ZM-V3"]),
    "C1": (["ZM-C1"], ["ZM-C2", "ZM-C3"]),
    "C2": (["ZM-C2"], []),
    "C3": (["ZM-C3"], []),
    "C4": (["ZM-C4"], []),
    "V1": (["ZM-V1"], ["ZM-V1V2"]),
    "V2": (["ZM-V2", "ZM-V1V2"], []),
    "V3": (["ZM-V3"], []),
}
EXCHANGED = {"C4": -1, "V3": 1}


@pytest.mark.parametrize("zone", ZONE_IDS)
def test_what_enters_a_zone_is_used_or_leaks_in_every_quarter_hour(autumn, zone):
    flows = autumn.flows
    brings, takes = FEEDS[zone]
    net = flows.meter_l_s[brings].sum(axis=1) - flows.meter_l_s[takes].sum(axis=1)
    net = net + EXCHANGED.get(zone, 0) * flows.exchange_l_s
    own = autumn.leaks.index[autumn.leaks["zone_id"] == zone]
    gone = flows.use_l_s[zone] - flows.missed_l_s[zone] + flows.other_l_s[zone]
    gone = gone + flows.background_l_s[zone] + flows.leaks_l_s[own].sum(axis=1)
    np.testing.assert_allclose(net, gone, rtol=0, atol=1e-6)
    np.testing.assert_allclose(flows.inflow_l_s[zone], gone, rtol=0, atol=1e-9)


def test_the_reservoir_carries_everything(autumn):
    flows = autumn.flows
    gone = flows.inflow_l_s.sum(axis=1)
    np.testing.assert_allclose(flows.meter_l_s["ZM-T"], gone, rtol=0, atol=1e-6)


def test_use_is_customers_and_buildings(autumn):
    use = autumn.use.customer_l_s.sum(axis=1) + autumn.flows.building_l_s.sum(axis=1)
    np.testing.assert_allclose(autumn.flows.use_l_s.sum(axis=1), use, rtol=0, atol=1e-9)


def test_building_leaks_are_seen_by_their_meters_alone(autumn):
    extra = autumn.flows.building_l_s - autumn.use.building_l_s
    meter = autumn.customers.connections.set_index("building_id")["meter_id"]
    overflow, cistern = meter["Meadow House 3"], meter["Curlew Music Rooms"]
    assert set(extra.columns[extra.abs().max() > 1e-9]) == {overflow, cistern}
    assert extra[overflow].iloc[-1] == pytest.approx(0.15)
    assert extra[cistern].iloc[-1] == pytest.approx(0.013)


def test_only_the_step_test_keeps_users_waiting(autumn):
    missed = autumn.flows.missed_l_s
    when = missed.index[missed.sum(axis=1) > 1e-9]
    assert (missed.drop(columns="V3").abs() < 1e-9).all(axis=None)
    assert when[0] >= pd.Timestamp("2025-10-17T01:00", tz="Europe/London")
    assert when[-1] < pd.Timestamp("2025-10-17T04:00", tz="Europe/London")


def test_pressures_are_a_towns_and_lowest_by_day(autumn):
    kept = autumn.flows.missed_l_s["V3"] < 1e-9
    pressure = autumn.flows.pressure_m[kept]
    assert pressure.min().min() > 20
    assert pressure.max().max() < 70
    night = pressure[autumn.clock.night[kept]].mean()
    hour = autumn.clock.hour[kept]
    morning = pressure[(hour >= 7) & (hour < 9)].mean()
    assert (night > morning).all()


def test_village_streets_lose_some_metres_at_the_peak(autumn):
    head = autumn.flows.logger_head_m
    zone = autumn.loggers().set_index("sensor_id")["zone_id"]
    fall = (head[autumn.clock.night].median() - head.quantile(0.01)).groupby(zone).max()
    assert fall[["V1", "V2"]].between(1.5, 8).all()
    assert fall["V3"] > 0.5


def test_leakage_follows_pressure(autumn):
    kept = autumn.flows.missed_l_s["V3"] < 1e-9
    ratio = autumn.flows.pressure_m["V1"] / 50
    base = (autumn.flows.background_l_s["V1"] / ratio**1.5)[kept]
    assert base.std() / base.mean() < 5e-3


def test_a_leaks_stated_flow_is_its_night_flow(autumn):
    # Stated at the pressure of a night without leaks: with them it is a little lower.
    late = autumn.clock.night & (autumn.clock.local >= "2025-10-20")
    night = autumn.flows.leaks_l_s[late].mean()
    assert night["L1"] == pytest.approx(1.2, rel=0.05)
    assert night["L5"] == pytest.approx(0.08, rel=0.05)


def test_the_inlets_never_turn(autumn):
    flow = autumn.flows.meter_l_s.drop(columns="ZM-V1V2")
    assert flow[autumn.flows.missed_l_s["V3"] < 1e-9].min().min() > 0


def test_the_open_valve_feeds_from_higher_head_until_the_end(autumn):
    exchange = autumn.flows.exchange_l_s
    opened = exchange[exchange != 0]
    assert opened.index[0] == pd.Timestamp("2025-10-27T11:00Z")
    assert opened.index[-1] == exchange.index[-1]
    assert 0.45 < opened.min() < opened.max() < 0.75
    assert opened.std() > 0.001


def test_lumping_connections_at_pipe_ends_moves_no_logger_by_2_cm(autumn):
    """The same busiest quarter hour with every connection at a node of its own."""
    own = autumn.customers.connections
    marks = [
        Mark(str(pipe), float(share), str(name), "leak")
        for pipe, share, name in zip(
            own["pipe_id"], own["share"], own["connection_id"], strict=True
        )
    ]
    lumped = true_model(autumn.layout, true_roughness(autumn.layout, np.random.default_rng(1)), ())
    each = true_model(autumn.layout, true_roughness(autumn.layout, np.random.default_rng(1)), marks)
    # 20 L/s, more than is ever drawn; by connection as its uses go.
    draw = np.random.default_rng(2).gamma(1.0, 1.0, len(own))
    draw *= 20.0 / draw.sum()
    loggers = autumn.loggers()
    heads = []
    for model, demand in (
        (lumped, lumped.taps(own["pipe_id"], own["share"]).T @ draw),
        (each, np.zeros(len(each.node_zone))),
    ):
        if model is each:
            demand[[each.node(str(name)) for name in own["connection_id"]]] = draw
        state = solve(model.model, demand)
        heads.append(model.taps(loggers["pipe_id"], loggers["share"]) @ state.head_m)
    np.testing.assert_allclose(heads[0], heads[1], atol=0.02)
    assert np.ptp(heads[0]) > 2


def test_inputs_are_left_alone():
    scene = set_out(Scenario(first=date(2025, 3, 20), days=1, customers_share=0.1), seed=3)
    use = Use(
        scene.use.customer_l_s.copy(), scene.use.building_l_s.copy(), scene.use.night_l_property_h
    )
    leaks = scene.leaks.copy()
    run_flows(
        scene.clock,
        scene.layout,
        scene.true,
        scene.loggers(),
        scene.customers,
        use,
        leaks,
        weights=scene.weights,
        condition_factors=scene.condition,
        tested=scene.tested,
    )
    pd.testing.assert_frame_equal(use.customer_l_s, scene.use.customer_l_s)
    pd.testing.assert_frame_equal(use.building_l_s, scene.use.building_l_s)
    pd.testing.assert_frame_equal(leaks, scene.leaks)
