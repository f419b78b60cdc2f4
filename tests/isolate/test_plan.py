"""Tests of `district.isolate.plan`."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
import pytest

from district.errors import InputError
from district.isolate.plan import Plan, plan_shut_off
from district.isolate.target import pipes_target
from district.network import Network
from district.schema.isolate_tables import (
    ISOLATION_CAUTION,
    PLAN_AREAS,
    PLAN_FAILURES,
    PLAN_PIPES,
    PLAN_USERS,
    PLAN_VALVES,
)
from tests.isolate.towns import cut, town


def plan(network: Network, *pipe_ids: str, stuck: Iterable[str] = ()) -> Plan:
    segments = cut(network)
    return plan_shut_off(network, segments, pipes_target(network, segments, pipe_ids), stuck=stuck)


def by_action(made: Plan, action: str) -> list[str]:
    return made.valves["valve_id"][made.valves["action"] == action].tolist()


def test_a_plan_names_its_valves_and_what_is_dry() -> None:
    made = plan(town(), "P6")
    assert by_action(made, "shut") == ["V2", "V5"]
    assert by_action(made, "may_stay_open") == ["V3"]
    areas = made.areas.set_index("area_id")
    assert areas["kind"].to_dict() == {"shut off": "shut_off", "1": "unintended"}
    assert areas["properties_count"].to_dict() == {"shut off": 18, "1": 36}
    assert areas.at["1", "segment_ids"] == "P3/2, P7/2"
    dry = made.pipes.set_index("pipe_id")["area_id"].to_dict()
    assert {p for p, a in dry.items() if a == "1"} == {"P3/2", "P7/1", "P7/2"}
    assert set(made.users["connection_id"]) == {"H2", "H6", "H3", "H7"}
    assert made.caution == ISOLATION_CAUTION


def test_the_tables_are_as_declared_whatever_they_hold() -> None:
    for made in (plan(town(), "P6"), plan(town({"P1": [(0, 0), (9, 0)]}, {}, houses={}), "P1")):
        tables = {
            "valves": PLAN_VALVES,
            "areas": PLAN_AREAS,
            "pipes": PLAN_PIPES,
            "users": PLAN_USERS,
            "failures": PLAN_FAILURES,
        }
        for name, table in tables.items():
            assert tuple(getattr(made, name).columns) == table.names(), name


def test_critical_users_are_told_first_and_by_name() -> None:
    network = town(
        of_houses={
            "H2": {"critical": True, "building_id": "Linden Court"},
            "H3": {"use_class": "fire_main"},
            "H6": {"use_class": "dialysis_home"},
        }
    )
    made = plan(network, "P6")
    assert made.users["connection_id"].tolist()[:3] == ["H6", "H3", "H2"]
    assert made.users["kind"].tolist()[:3] == ["medical", "fire", "critical"]
    assert made.said[0] == (
        "Tell and supply first: H6 (medical use, dialysis_home); H3 (fire supply, fire_main); H2 "
        "of Linden Court (critical)."
    )


def test_a_building_with_another_connection_is_told_as_such() -> None:
    both = {"H1": {"building_id": "Mill"}, "H3": {"building_id": "Mill"}}
    made = plan(town(of_houses=both), "P3/2")
    told = made.users.set_index("connection_id")["also_fed_by"]
    assert told["H3"] == "H1"
    assert told["H7"] == ""


def test_a_valve_that_does_not_close_is_planned_around() -> None:
    made = plan(town(), "P6", stuck=["V5"])
    assert by_action(made, "shut") == ["V2", "V4"]
    assert made.said[0] == "Taken as not closing: V5."
    assert made.areas["properties_count"].sum() == 18 + 8 + 36


def test_another_valve_at_the_same_place_is_taken_instead() -> None:
    there = {"V1": (90.0, 0.0), "V2": (110.0, 0.0), "W2": (110.0, 0.0)}
    network = town(valves=there)
    first = plan(network, "P2/2")
    assert by_action(first, "shut") == ["V1"]  # The ring is not parted.
    line = {"P1": [(0, 0), (100, 0)], "P2": [(100, 0), (200, 0)]}
    network = town(line, there)
    first = plan(network, "P2/2")
    assert first.valves["beside"].tolist() == ["W2"]
    assert by_action(plan(network, "P2/2", stuck=["V2"]), "shut") == ["W2"]
    assert by_action(plan(network, "P2/2", stuck=["V2", "W2"]), "shut") == ["V1"]


def test_a_source_inside_has_to_be_shut_itself() -> None:
    made = plan(town(), "P1")
    assert made.sources == ("S",)
    assert by_action(made, "shut") == []
    assert (
        "No valve stands between the stretch and source S: shut it at its own works as well."
        in (made.said)
    )
    two = plan(town(sources={"S": (0, 0), "S2": (400, 0)}), "P1")
    # With a second source the first valve guards the stretch against it.
    assert by_action(two, "shut") == ["V2", "V4"]
    assert two.sources == ("S",)


def test_the_outlet_valve_of_a_source_is_shut_or_else_the_source() -> None:
    there = {"V0": (0.0, 0.0), "V1": (90.0, 0.0)}
    assert by_action(plan(town(valves=there), "P1/1"), "shut") == ["V0"]
    stuck = plan(town(valves=there), "P1/1", stuck=["V0"])
    assert stuck.sources == ("S",)
    assert by_action(stuck, "shut") == []


def test_a_valve_that_stands_shut_is_to_be_kept_shut_and_may_feed_what_is_cut_off() -> None:
    network = town(sources={"S": (0, 0), "S2": (400, 0)}, of_valves={"V7": {"state": "shut"}})
    made = plan(network, "P6")
    assert by_action(made, "keep_shut") == ["V7"]
    areas = made.areas.set_index("kind")
    assert areas.at["unintended", "may_feed"] == "V7"
    assert areas.at["shut_off", "may_feed"] == ""
    assert any("V7, shut now, would feed it if opened" in s for s in made.said)


def test_a_stretch_without_water_on_the_map_is_no_plan() -> None:
    made = plan(town(of_valves={"V3": {"state": "shut"}}), "P7/2")
    assert by_action(made, "shut") == []
    assert made.said[0] == (
        "On the map no source reaches pipe P7/2. If water runs there, the map is wrong: shut the "
        "valves around it, V7, and find out where it comes from."
    )


def test_an_unknown_valve_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        plan(town(), "P6", stuck=["V99"])
    (finding,) = caught.value.findings
    assert finding.sentence().startswith('valves, valve V99, column valve_id: got "V99"')


def test_the_network_is_not_changed() -> None:
    network = town()
    names = ("pipes", "valves", "connections", "nodes", "sources")
    before = {name: getattr(network, name).copy() for name in names}
    plan(network, "P2", stuck=["V1"])
    for name, table in before.items():
        pd.testing.assert_frame_equal(getattr(network, name), table)


def test_every_plan_says_that_it_rests_on_the_map() -> None:
    for pipe in ("P1", "P6", "P7"):
        assert "The plan rests on the map" in plan(town(), pipe).said[-1]
