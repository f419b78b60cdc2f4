from __future__ import annotations

import pandas as pd
import pytest

from district.plan.break_water import (
    WATER_SPREAD_SHARE,
    break_water,
    burst_water_m3,
    hidden_leaks,
    zone_pressures,
)
from district.plan.parts import parts_of
from district.schema.columns import empty
from district.schema.outputs import LIKELIHOOD
from district.schema.pressures import ZONE_PRESSURE
from district.settings import Settings
from tests.plan.cost_scene import layer_of, likelihood, network, zone_pressure

IDS = layer_of()["pipe_id"].iloc[:4]
PARTS = parts_of(IDS, network())


def test_water_goes_with_pressure() -> None:
    assert burst_water_m3(25.0) == pytest.approx(burst_water_m3(50.0) / 2)
    found = break_water(zone_pressures(PARTS, zone_pressure(), settings=Settings()))
    assert found.value.tolist() == pytest.approx([float(burst_water_m3(50.0))] * 4)
    # Pressure may lie a fifth away, the published mean by as much as is assumed.
    either = (WATER_SPREAD_SHARE**2 + 0.2**2) ** 0.5
    assert found.high[0] == pytest.approx(found.value[0] * (1 + either))
    assert found.low[0] == pytest.approx(found.value[0] * (1 - either))


def test_pressure_is_assumed_where_no_zone_tells_it() -> None:
    for told in (
        empty(ZONE_PRESSURE),
        zone_pressure(cell_id="ELSE"),
        zone_pressure(pressure_m=None),
    ):
        found = zone_pressures(PARTS, told, settings=Settings())
        assert [x[0] for x in found] == [40.0, 30.0, 50.0]


def test_a_main_outside_the_network_has_the_assumed_pressure() -> None:
    parts = parts_of(layer_of()["pipe_id"], network())
    found = zone_pressures(parts, zone_pressure(), settings=Settings())
    assert found.value.tolist() == [50, 50, 50, 50, 40]


def test_hidden_leaks_share_what_is_looked_for() -> None:
    found = hidden_leaks(PARTS, likelihood(), zone_pressure())
    # 1 L/s is 86.4 m3 a day.
    assert found.value.tolist() == pytest.approx([0, 0.3 * 86.4, 0.5 * 86.4, 0.2 * 86.4])
    # The parts of A1 rest on one rate: their shares have half of each as limits, the flow 0.4.
    either = (0.5**2 + 0.4**2) ** 0.5
    assert found.high[1] == pytest.approx(found.value[1] * (1 + either))
    assert found.low[1] == pytest.approx(found.value[1] * (1 - either))


def test_the_night_is_brought_to_the_day() -> None:
    less_by_day = zone_pressure(night_pressure_m=62.5, exponent_index=1.5)
    found = hidden_leaks(PARTS, likelihood(), less_by_day)
    assert found.value.sum() == pytest.approx(86.4 * 0.8**1.5)


def test_no_search_and_a_flow_below_nothing_give_none() -> None:
    assert hidden_leaks(PARTS, empty(LIKELIHOOD), zone_pressure()).value.tolist() == [0] * 4
    found = hidden_leaks(PARTS, likelihood(flow_l_s_low=-0.2), empty(ZONE_PRESSURE))
    assert (found.low >= 0).all()
    assert found.value.sum() == pytest.approx(86.4)


def test_a_copy_has_no_hidden_leak_of_its_own() -> None:
    copies = pd.Series(["A1", "B1"])
    parts = parts_of(copies, network())
    twice = type(parts)(parts.table, parts.main, 2, copies.eq("B1").to_numpy())
    found = hidden_leaks(twice, likelihood(), zone_pressure())
    assert found.value.tolist() == pytest.approx([0.3 * 86.4, 0])
