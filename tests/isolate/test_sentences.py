"""Tests of `district.isolate.sentences`."""

from __future__ import annotations

from district.isolate.plan import plan_shut_off
from district.isolate.sentences import failure_sentence
from district.isolate.target import pipes_target
from tests.isolate.towns import cut, town


def test_a_plan_reads_in_the_order_a_crew_needs() -> None:
    network = town(
        of_houses={"H6": {"critical": True}},
        of_valves={"V7": {"state": "shut"}},
        sources={"S": (0, 0), "S2": (400, 0)},
        tanks={"T1": (260, 0)},
    )
    segments = cut(network)
    made = plan_shut_off(network, segments, pipes_target(network, segments, ["P6"]))
    assert list(made.said) == [
        "Tell and supply first: H6 (critical).",
        "To make pipe P6 dry, shut in this order: V2, V5.",
        "Shut on the map, to be checked and kept shut: V7.",
        "May stay open, as both sides are without water anyway: V3.",
        "Shut off: 210 m of pipe, 2 connections, 18 properties, 1 critical user.",
        "Cut off as well, unintended (area 1): 100 m of pipe, 1 connection, 4 properties. Tank T1 "
        "stands there: water runs from it until it is shut or empty. V7, shut now, would feed it "
        "if opened: pressure, zone and water quality have to allow that.",
        "If V2 does not close: also shut V1; 8 properties more without water (210 m more); V5 may "
        "be opened again.",
        "If V5 does not close: also shut V4; 8 properties more without water (180 m more).",
        "The plan rests on the map: a valve that stands otherwise than drawn, or a pipe that is "
        "not on it, changes what is dry. Prove it on the spot.",
    ]


def test_what_is_in_doubt_is_said_to_be_so() -> None:
    network = town(
        valves={"V1": (90, 0), "V2": (110, 0), "V4": (100, 10), "C1": (250, 0)},
        sources={"S": (0, 0), "S2": (400, 0)},
        of_valves={"C1": {"kind": "check"}},
    )
    segments = cut(network)
    made = plan_shut_off(network, segments, pipes_target(network, segments, ["P1/2"]))
    (doubt,) = [s for s in made.said if s.startswith("Perhaps")]
    assert doubt.startswith("Perhaps without water (area 1): 430 m of pipe, 4 connections, ")
    assert doubt.endswith(
        "It is fed only if water may pass C1 that way, which the map does not tell."
    )


def test_many_critical_users_are_named_up_to_a_dozen_and_the_rest_counted() -> None:
    houses = {f"H{n:02}": ((float(n), 1.0), 1) for n in range(1, 16)}
    flagged = {name: {"critical": True} for name in houses}
    line = {"P1": [(0, 0), (100, 0)]}
    network = town(line, {"V1": (0, 0)}, houses=houses, of_houses=flagged)
    segments = cut(network)
    first = plan_shut_off(network, segments, pipes_target(network, segments, ["P1"])).said[0]
    assert first.count("(critical)") == 12
    assert first.endswith("H12 (critical) and 3 more.")


def test_a_failure_that_needs_nothing_more_says_so() -> None:
    row = {
        "valve_id": "V1",
        "also_shut": "",
        "sources": "",
        "no_longer": "",
        "more_properties_count": 0,
        "more_length_m": 0.0,
        "more_users": "",
    }
    said = "If V1 does not close: no other valve is needed; nobody more is without water."
    assert failure_sentence(row) == said
