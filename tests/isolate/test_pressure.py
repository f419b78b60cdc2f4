"""Tests of `district.isolate.pressure`."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.errors import StageError
from district.isolate.plan import Plan, plan_shut_off
from district.isolate.pressure import PEAK_INDEX, PressureLeft, pressure_left
from district.isolate.target import pipes_target
from district.network import Network
from district.schema.isolate_tables import PLAN_PRESSURES
from district.settings import Settings
from tests.isolate.towns import VALVES_THERE, cut, town

SETTINGS = Settings()
HOUSES = {
    "H2": ((150.0, 5.0), 300),
    "H5": ((150.0, 105.0), 5),
    "H6": ((205.0, 50.0), 600),
    "H3": ((260.0, 5.0), 1),
}


def headed(**more: object) -> Network:
    """The town with a source whose head is told, on level ground."""
    network = town(houses=HOUSES, **more)  # type: ignore[arg-type]
    sources = network.sources.assign(head_m=60.0)
    connections = network.connections.assign(elevation_m=10.0)
    return Network(**{**vars(network), "sources": sources, "connections": connections})


def planned(network: Network, *pipe_ids: str) -> Plan:
    segments = cut(network)
    return plan_shut_off(network, segments, pipes_target(network, segments, pipe_ids))


def left(network: Network, *pipe_ids: str) -> PressureLeft:
    return pressure_left(network, planned(network, *pipe_ids), settings=SETTINGS)


def lost_m(flow_l_s: float, length_m: float) -> float:
    """Hazen & Williams, SI: 10.67 L Q^1.852 / (C^1.852 D^4.8704) (from memory); bore 100 mm."""
    c = 130.0
    return 10.67 * length_m * (flow_l_s / 1000) ** 1.852 / (c**1.852 * 0.1**4.8704)


def test_a_ring_cut_open_sends_all_water_the_other_way() -> None:
    network = headed(of_pipes={f"P{n}": {"roughness": 130.0} for n in range(1, 8)})
    made = left(network, "P4/2")
    table = made.table.set_index("connection_id")
    assert tuple(made.table.columns) == PLAN_PRESSURES.names()
    assert set(table.index) == {"H2", "H6", "H3"}  # H5 is dry.
    # By hand: behind the valve on P2 flows what H2, H6 and H3 use; the draw of a house half-way
    # along its pipe is shared by the two ends of that part of the pipe.
    a_day = SETTINGS.allowances["household"].l_property_d
    use = {h: PEAK_INDEX * n * a_day / 86_400 for h, (_, n) in HOUSES.items()}
    rest = use["H2"] + use["H6"] + use["H3"]
    near = 1 - 40 / 90  # H2 stands 40 m along P2/2.
    at_p2 = 50.0 - lost_m(rest, 110.0)
    at_corner = at_p2 - lost_m(rest - near * use["H2"], 90.0)
    expected = near * at_p2 + (1 - near) * at_corner
    assert table.at["H2", "after_m"] == pytest.approx(expected, abs=0.05)
    assert (table["change_m"] < 0).all()
    assert table["change_m"].tolist() == sorted(table["change_m"])


def test_limits_hold_the_value_and_are_wider_for_rougher_pipes() -> None:
    table = left(headed(), "P4/2").table
    for name in ("before_m", "after_m", "change_m"):
        assert (table[f"{name}_low"] <= table[name]).all()
        assert (table[name] <= table[f"{name}_high"]).all()
    assert (table["change_m_low"] < table["change_m_high"]).all()


def test_a_plan_that_only_takes_users_away_raises_the_pressure() -> None:
    table = left(headed(), "P3/2").table
    assert (table["change_m"] >= -1e-6).all()


def test_a_shut_off_elsewhere_leaves_what_it_does_not_touch() -> None:
    network = headed(sources={"S": (0, 0), "S2": (400, 0)})
    table = left(network, "P6").table.set_index("connection_id")
    assert table["reached"].all()
    assert np.isfinite(table["after_m"]).all()
    assert "H6" not in table.index


def test_without_a_head_or_a_source_no_model_can_be_drawn() -> None:
    network = town(houses=HOUSES, sources={})
    with pytest.raises(StageError):
        left(network, "P4/2")


def test_what_no_water_reaches_past_a_check_valve_is_told_first() -> None:
    # Water runs east past C1 today; with P1 shut off it would have to run west to reach H5.
    valves = {**{v: VALVES_THERE[v] for v in ("V1", "V2", "V4", "V7")}, "C1": (250.0, 0.0)}
    network = headed(
        valves=valves,
        sources={"S": (0, 0), "S2": (400, 0)},
        of_valves={"C1": {"kind": "check"}},
    )
    sources = network.sources.copy()
    sources.loc["S2", "head_m"] = 55.0
    network = Network(**{**vars(network), "sources": sources})
    table = left(network, "P1/2").table
    assert table["connection_id"].tolist()[-1] == "H3"
    assert table["reached"].tolist() == [False] * 3 + [True]
    assert table["after_m"].isna().tolist() == [True] * 3 + [False]


def test_nothing_given_is_changed_and_what_was_assumed_is_said() -> None:
    network = headed()
    made = planned(network, "P6")
    before = {name: getattr(made, name).copy() for name in ("pipes", "areas")}
    found = pressure_left(network, made, settings=SETTINGS)
    for name, table in before.items():
        pd.testing.assert_frame_equal(getattr(made, name), table)
    assert "Limits hold for roughness off by 20 % everywhere." in found.assumed
