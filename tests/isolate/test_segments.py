"""Tests of `district.isolate.segments`."""

from __future__ import annotations

import pytest

from district.schema.isolate_tables import SEGMENT_PIPES, SEGMENTS
from tests.isolate.towns import STREETS, VALVES_THERE, cut, town


def test_the_town_falls_into_six_segments() -> None:
    network = town()
    segments = cut(network)
    table = segments.table.set_index("segment_id")
    assert tuple(segments.table.columns) == SEGMENTS.names()
    assert tuple(segments.pipes.columns) == SEGMENT_PIPES.names()
    assert table["length_m"].to_dict() == pytest.approx(
        {"P1/1": 90, "P1/2": 30, "P2/2": 210, "P3/2": 100, "P4/2": 180, "P7/2": 90}
    )
    assert table["properties_count"].to_dict() == {
        "P1/1": 1, "P1/2": 0, "P2/2": 18, "P3/2": 4, "P4/2": 8, "P7/2": 32,
    }  # fmt: skip
    assert table.at["P2/2", "valves"] == "V2, V3, V5"
    assert table.at["P1/1", "sources"] == "S"
    assert table["fed"].all()
    assert segments.pipes["pipe_id"].tolist() == network.pipes.index.tolist()
    assert segments.pipes.set_index("pipe_id")["segment_id"].to_dict()["P6"] == "P2/2"


def test_every_metre_and_every_house_is_in_one_segment() -> None:
    network = town()
    table = cut(network).table
    assert table["length_m"].sum() == pytest.approx(network.pipes["length_m"].sum())
    assert table["connections_count"].sum() == len(network.connections)
    assert table["pipes_count"].sum() == len(network.pipes)


def test_a_dead_end_and_a_single_pipe_are_segments() -> None:
    table = cut(town()).table.set_index("segment_id")
    assert table.at["P7/2", "valves"] == "V7"
    assert table.at["P7/2", "pipes_count"] == 1


def test_a_shut_valve_parts_and_is_told_apart() -> None:
    table = cut(town(of_valves={"V3": {"state": "shut"}})).table.set_index("segment_id")
    assert table.at["P3/2", "shut_valves"] == "V3"
    assert table.at["P3/2", "valves"] == "V7"
    assert not table.at["P3/2", "fed"]
    assert not table.at["P7/2", "fed"]


def test_check_and_reducing_valves_and_meters_are_inside_a_segment() -> None:
    kinds = {"V2": {"kind": "check"}, "V3": {"kind": "pressure_reducing"}}
    network = town(of_valves=kinds, meters={"M1": (150, 0)})
    table = cut(network).table.set_index("segment_id")
    assert "P3/2" not in table.index
    assert table.at["P1/2", "valves"] == "V1, V4, V5, V7"
    # The meter parts two zones' worth of pipes, all in one segment.
    assert table.at["P1/2", "length_m"] == pytest.approx(30 + 210 + 100)


def test_tanks_and_critical_users_are_counted_where_they_are() -> None:
    network = town(
        tanks={"T1": (390, 0)},
        of_houses={"H7": {"use_class": "hospital"}, "H3": {"critical": True}},
    )
    table = cut(network).table.set_index("segment_id")
    assert table.at["P7/2", "tanks"] == "T1"
    assert table["critical_count"].to_dict() == {
        "P1/1": 0, "P1/2": 0, "P2/2": 0, "P3/2": 1, "P4/2": 0, "P7/2": 1,
    }  # fmt: skip


def test_a_network_without_valves_is_one_segment_for_each_part() -> None:
    apart = {**STREETS, "Q1": [(0, 500), (100, 500)]}
    table = cut(town(apart, {})).table.set_index("segment_id")
    assert set(table.index) == {"P1", "Q1"}
    assert table["fed"].to_dict() == {"P1": True, "Q1": False}
    assert (table["valves"] == "").all()


def test_names_do_not_follow_the_order_of_rows() -> None:
    turned = dict(reversed(STREETS.items()))
    again = {name: line[::-1] for name, line in turned.items()}
    one, other = (cut(town(p, VALVES_THERE)).table for p in (STREETS, again))
    assert one["segment_id"].tolist() == other["segment_id"].tolist()
    assert one["valves"].tolist() == other["valves"].tolist()
