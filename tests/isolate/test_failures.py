"""Tests of `district.isolate.failures`."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from district.isolate.plan import Plan, plan_shut_off
from district.isolate.target import pipes_target
from district.network import Network
from tests.isolate.towns import cut, town


def plan(network: Network, pipe_id: str, stuck: Iterable[str] = ()) -> Plan:
    segments = cut(network)
    return plan_shut_off(network, segments, pipes_target(network, segments, [pipe_id]), stuck=stuck)


def test_each_valve_of_the_plan_has_its_own_way_out() -> None:
    network = town(of_houses={"H5": {"critical": True}})
    told = plan(network, "P6").failures.set_index("valve_id")
    assert told.index.tolist() == ["V2", "V5"]
    assert told.at["V5", "also_shut"] == "V4"
    assert told.at["V5", "more_properties_count"] == 8
    assert told.at["V5", "more_users"] == "H5"
    # With V2 open the water is shut off upstream, and the ring needs no valve any more.
    assert told.at["V2", "also_shut"] == "V1"
    assert told.at["V2", "no_longer"] == "V5"
    assert told.at["V2", "said"] == (
        "If V2 does not close: also shut V1; 8 properties more without water (210 m more), among "
        "them H5; V5 may be opened again."
    )


def test_the_way_out_is_the_plan_with_that_valve_stuck() -> None:
    network = town(
        sources={"S": (0, 0), "S2": (400, 0)}, of_valves={"V4": {"kind": "automatic_shutoff"}}
    )
    for pipe_id in ("P1", "P1/2", "P2/2", "P4/2", "P3/2", "P7/2"):
        first = plan(network, pipe_id)
        for row in first.failures.to_dict("records"):
            again = plan(network, pipe_id, stuck=[row["valve_id"]])
            also = {v for v in row["also_shut"].split(", ") if v}
            no_longer = {v for v in row["no_longer"].split(", ") if v}
            assert (_shut(first) | also) - no_longer - {row["valve_id"]} == _shut(again)
            more = _properties(again) - _properties(first)
            assert row["more_properties_count"] == more
            sources = {s for s in row["sources"].split(", ") if s}
            assert set(first.sources) | sources == set(again.sources)


def test_another_valve_at_the_same_place_takes_its_part() -> None:
    line = {"P1": [(0, 0), (100, 0)], "P2": [(100, 0), (200, 0)]}
    network = town(line, {"V1": (40, 0), "V2": (40, 0)})
    (row,) = plan(network, "P2").failures.to_dict("records")
    assert row["also_shut"] == "V2"
    assert row["more_length_m"] == 0
    assert row["said"] == ("If V1 does not close: also shut V2; nobody more is without water.")


def test_at_the_last_valve_the_source_itself_is_shut() -> None:
    (row,) = plan(town(), "P1/2").failures.to_dict("records")
    assert row["sources"] == "S"
    assert row["said"].startswith("If V1 does not close: shut source S at its own works; 1 prop")


def test_a_plan_without_valves_has_no_failures() -> None:
    failures = plan(town(), "P1/1").failures
    assert isinstance(failures, pd.DataFrame)
    assert failures.empty


def _shut(made: Plan) -> set[str]:
    return set(made.valves["valve_id"][made.valves["action"] == "shut"])


def _properties(made: Plan) -> int:
    return int(made.areas["properties_count"].sum())
