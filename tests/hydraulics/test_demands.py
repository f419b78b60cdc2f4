"""Tests of `district.hydraulics.demands`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import Demands, Drawn, draw_model, hourly_demands
from district.network import Network, build_network
from district.results import Inputs
from district.settings import Settings

SETTINGS = Settings()


@pytest.fixture
def network(with_layers: Callable[..., Inputs]) -> Network:
    sources = with_layers().sources.assign(head_m=90.0)
    return build_network(with_layers(sources=sources), settings=SETTINGS)


@pytest.fixture
def drawn(network: Network) -> Drawn:
    return draw_model(network, settings=SETTINGS)


def _flows(**by_device: list[float]) -> pd.DataFrame:
    rows = [
        (device.replace("_", "-"), date(2025, 3, 1 + n // 2), n % 2, flow)
        for device, flows in by_device.items()
        for n, flow in enumerate(flows)
        if not np.isnan(flow)
    ]
    return pd.DataFrame(rows, columns=["device_id", "day", "hour", "flow_l_s"])


FLOWS = _flows(M1=[2.0, 3.0, 2.5, 3.5], M2=[0.5, 0.7, np.nan, 0.9], C1=[0.2, 0.4, 0.2, np.nan])


def _demands(network: Network, drawn: Drawn, **options: Any) -> Demands:
    return hourly_demands(network, drawn, FLOWS, settings=SETTINGS, **options)


def _cell(demands: Demands, name: str) -> int:
    return list(demands.cell_id).index(name)


def test_net_inflow_less_measured_use_is_what_is_left(network: Network, drawn: Drawn) -> None:
    demands = _demands(network, drawn)
    assert demands.hours["hour"].tolist() == [0, 1, 0, 1]
    a, b = _cell(demands, "A"), _cell(demands, "B")
    # C1 lacks the last hour: its usual at that hour of the day, 0.4, stands in.
    np.testing.assert_allclose(demands.rest_l_s[:, a], [1.3, 1.9, np.nan, 2.2])
    np.testing.assert_allclose(demands.rest_l_s[:, b], [0.5, 0.7, np.nan, 0.9])
    np.testing.assert_allclose(demands.measured_l_s.sum(axis=1), [0.2, 0.4, 0.2, 0.4])


def test_all_that_enters_leaves_at_some_node(network: Network, drawn: Drawn) -> None:
    leaving = _demands(network, drawn).node_l_s().sum(axis=1)
    supply = leaving[0] - 2.0
    assert 0.0 < supply < 0.01  # the trunk's own background, which no meter sees
    np.testing.assert_allclose(leaving[[0, 1, 3]] - supply, [2.0, 3.0, 3.5])


def test_shares_of_every_cell_sum_to_one(network: Network, drawn: Drawn) -> None:
    demands = _demands(network, drawn)
    np.testing.assert_allclose(demands.use.sum(axis=1), 1.0)
    np.testing.assert_allclose(demands.leakage.sum(axis=1), 1.0)
    # A's one user is read by the hour: what is left there spreads as leakage does.
    a = _cell(demands, "A")
    np.testing.assert_allclose(demands.use.toarray()[a], demands.leakage.toarray()[a])


def test_use_spreads_by_allowance_or_by_bills(network: Network, drawn: Drawn) -> None:
    b = 1
    by_allowance = _demands(network, drawn)
    assert by_allowance.cell_id[b] == "B"
    tap = drawn.tap.toarray()
    np.testing.assert_allclose(by_allowance.use.toarray()[b], (4 * tap[1] + 2 * tap[2]) / 6)
    assert by_allowance.use_spread_share[b] == 1.2
    network.connections.loc["c2", "meter_id"] = "Q"
    billed = pd.Series({"Q": 350 * 2 / 86_400})
    by_bills = _demands(network, drawn, billed_l_s=billed)
    np.testing.assert_allclose(by_bills.use.toarray()[b], (tap[1] + tap[2]) / 2)
    assert by_bills.use_spread_share[b] == pytest.approx((0.4 + 1.2) / 2)


def test_background_follows_components_pressure_and_what_nights_tell(
    network: Network, drawn: Drawn
) -> None:
    plain = _demands(network, drawn)
    b = _cell(plain, "B")
    km = network.cells.at["B", "mains_km"]
    by_hand = (20.0 * km + 1.25 * 2) * 1.5 * (40.0 / 50.0) ** 1.5 / 3600.0
    assert plain.leakage_l_s[b] == pytest.approx(by_hand)
    told = _demands(network, drawn, leakage_l_s=pd.Series({"B": 0.3}))
    assert told.leakage_l_s[b] == 0.3
    pressed = _demands(network, drawn, pressure_m=pd.Series({"B": 60.0}))
    assert pressed.leakage_l_s[b] == pytest.approx(by_hand * 1.5**1.5)
    # Ground falls from c2 at 20 m to c3 at 30 m: where it is low, pressure is high.
    share = plain.leakage.toarray()[b]
    flat = replace(drawn.model, elevation_m=np.zeros(len(drawn.model.node_id)))
    equal = _demands(network, replace(drawn, model=flat)).leakage.toarray()[b]
    ratio = share[equal > 0] / equal[equal > 0]
    level = drawn.model.elevation_m[equal > 0]
    assert ratio[level.argmin()] > 1.0 > ratio[level.argmax()]


def test_only_the_days_asked_for(network: Network, drawn: Drawn) -> None:
    demands = _demands(network, drawn, days=[date(2025, 3, 1)])
    assert len(demands.hours) == 2


def test_a_tank_draws_what_it_stores(with_layers: Callable[..., Inputs]) -> None:
    inputs = with_layers()
    sensors = inputs.sensors.assign(kind="tank_level", surface_m2=50.0)
    sources = inputs.sources.assign(head_m=90.0)
    network = build_network(with_layers(sensors=sensors, sources=sources), settings=SETTINGS)
    drawn = draw_model(network, settings=SETTINGS)
    flows = pd.concat([FLOWS, _flows(P1=[0.1, -0.2, 0.0, 0.3])], ignore_index=True)
    demands = hourly_demands(network, drawn, flows, settings=SETTINGS)
    b = _cell(demands, "B")
    np.testing.assert_allclose(demands.rest_l_s[:, b], [0.4, 0.9, np.nan, 0.6])
    leaving = demands.node_l_s().sum(axis=1)
    np.testing.assert_allclose(leaving[1] - leaving[0], 1.0)


def test_the_order_of_readings_changes_nothing(network: Network, drawn: Drawn) -> None:
    one = _demands(network, drawn)
    other = hourly_demands(network, drawn, FLOWS.iloc[::-1], settings=SETTINGS)
    np.testing.assert_array_equal(one.node_l_s(), other.node_l_s())
