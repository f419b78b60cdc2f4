import numpy as np
import pandas as pd
import pytest

from district.simulate.demand import Use
from district.simulate.flows import run_flows
from district.simulate.scenario import ZONE_IDS

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
def test_what_enters_a_zone_is_used_or_leaks_in_every_quarter_hour(whole, zone):
    flows = whole.flows
    brings, takes = FEEDS[zone]
    net = flows.meter_l_s[brings].sum(axis=1) - flows.meter_l_s[takes].sum(axis=1)
    net = net + EXCHANGED.get(zone, 0) * flows.exchange_l_s
    own = whole.leaks.index[whole.leaks["zone_id"] == zone]
    gone = flows.use_l_s[zone] + flows.other_l_s[zone] + flows.background_l_s[zone]
    gone = gone + flows.leaks_l_s[own].sum(axis=1)
    np.testing.assert_allclose(net, gone, rtol=0, atol=1e-9)


def test_the_reservoir_carries_everything(whole):
    flows = whole.flows
    gone = (
        flows.use_l_s.sum(axis=1)
        + flows.other_l_s.sum(axis=1)
        + flows.background_l_s.sum(axis=1)
        + flows.leaks_l_s.sum(axis=1)
    )
    np.testing.assert_allclose(flows.meter_l_s["ZM-T"], gone, rtol=0, atol=1e-9)


def test_use_is_customers_and_buildings(whole):
    use = whole.use.customer_l_s.sum(axis=1) + whole.flows.building_l_s.sum(axis=1)
    np.testing.assert_allclose(whole.flows.use_l_s.sum(axis=1), use, rtol=0, atol=1e-9)


def test_the_building_leak_is_seen_by_its_meter_alone(whole):
    extra = whole.flows.building_l_s - whole.use.building_l_s
    meter = whole.customers.connections.set_index("building_id")["meter_id"]["Meadow House 3"]
    assert set(extra.columns[extra.abs().max() > 1e-9]) == {meter}
    assert extra[meter].iloc[-1] == pytest.approx(0.15)


def test_pressures_are_a_towns_and_lowest_by_day(whole):
    pressure = whole.flows.pressure_m
    assert pressure.min().min() > 25
    assert pressure.max().max() < 70
    night = pressure[whole.clock.night].mean()
    morning = pressure[(whole.clock.hour >= 7) & (whole.clock.hour < 9)].mean()
    assert (night > morning).all()


def test_leakage_follows_pressure(whole):
    ratio = whole.flows.pressure_m["V1"] / 50
    base = whole.flows.background_l_s["V1"] / ratio**1.5
    assert base.std() / base.mean() < 1e-3


def test_a_leaks_stated_flow_is_its_night_flow(whole):
    december = whole.clock.night & (whole.clock.local.month == 12)
    night = whole.flows.leaks_l_s[december].mean()
    assert night["L1"] == pytest.approx(1.2, rel=0.05)
    assert night["L8"] == pytest.approx(0.6, rel=0.05)


def test_the_transfer_turns_at_times_and_the_inlets_never(whole):
    transfer = whole.flows.meter_l_s["ZM-V1V2"]
    assert 0.05 < (transfer < 0).mean() < 0.95
    assert whole.flows.meter_l_s.drop(columns="ZM-V1V2").min().min() > 0


def test_the_open_valve_feeds_from_higher_head_until_the_end(whole):
    exchange = whole.flows.exchange_l_s
    opened = exchange[exchange > 0]
    assert opened.index[0] == pd.Timestamp("2025-10-27T11:00Z")
    assert opened.index[-1] == exchange.index[-1]
    assert 0.35 < opened.min() < opened.max() < 0.85
    assert opened.std() > 0.005
    assert (whole.flows.head_m["C4"] > whole.flows.head_m["V3"]).all()


def test_inputs_are_left_alone(small):
    use = Use(
        small.use.customer_l_s.copy(), small.use.building_l_s.copy(), small.use.night_l_property_h
    )
    leaks = small.leaks.copy()
    run_flows(
        small.clock,
        small.layout,
        small.customers,
        use,
        leaks,
        condition_factors=dict.fromkeys(ZONE_IDS, 1.5),
    )
    pd.testing.assert_frame_equal(use.customer_l_s, small.use.customer_l_s)
    pd.testing.assert_frame_equal(use.building_l_s, small.use.building_l_s)
    pd.testing.assert_frame_equal(leaks, small.leaks)
