"""Tests of `district.isolate.unshuttable`."""

from __future__ import annotations

from district.isolate import without_stuck
from tests.isolate.towns import STREETS, VALVES_THERE, cut, town

LINE = {"P1": [(0, 0), (100, 0)], "P2": [(100, 0), (200, 0)]}


def told(segments: object) -> list[tuple[str, str]]:
    return [(f.severity, f.sentence()) for f in segments.findings]  # type: ignore[attr-defined]


def test_a_segment_that_only_its_source_shuts_off_is_a_warning() -> None:
    assert told(cut(town(LINE, {}))) == [
        (
            "warning",
            "valves, segment P1: got no valve between 2 parts of pipes (200 m) and source S, "
            "expected a valve that a crew can turn at the outlet of every source. Draw the valve "
            "that is there, or plan for the source itself to be shut when these pipes break.",
        )
    ]


def test_one_that_valves_part_from_the_rest_is_a_note() -> None:
    ((severity, said),) = told(cut(town(LINE, {"V1": (50, 0)})))
    assert severity == "note"
    assert "got valves towards the rest, but none between 1 part of pipes (50 m)" in said


def test_a_valve_at_the_outlet_is_nothing_to_tell() -> None:
    assert told(cut(town(LINE, {"V1": (0, 0)}))) == []


def test_valves_with_one_segment_on_both_sides_are_told_once() -> None:
    # P2 to P6 form a ring: with V2 alone on it, shutting V2 parts nothing.
    ring = {v: VALVES_THERE[v] for v in ("V1", "V2")}
    (_, (severity, said)) = told(cut(town(STREETS, ring)))
    assert severity == "note"
    assert said == (
        "valves, valve V2: got the same segment on both sides: shut, it parts nothing without one "
        "more valve, expected another segment on each side. Check whether a valve near by is "
        "missing on the map or cannot be turned."
    )


def test_a_stuck_valve_parts_nothing_but_one_that_stands_shut_still_does() -> None:
    network = town()
    bare = town(valves={v: xy for v, xy in VALVES_THERE.items() if v != "V7"})
    stuck = without_stuck(network, ["V7", "V99"])
    assert len(cut(stuck).table) == len(cut(bare).table) == len(cut(network).table) - 1
    assert network.valves["operable"].all()
    shut = town(of_valves={"V7": {"state": "shut"}})
    assert len(cut(without_stuck(shut, ["V7"])).table) == len(cut(shut).table)
