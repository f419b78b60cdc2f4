"""The mains of a street in order along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.network import Network
from district.plan.runs import Runs, left_of, natural_order, runs_of
from tests.examples import examples
from tests.plan.made_town import mains_table, network_of, row_of, town

Lines = Sequence[tuple[str, Sequence[tuple[float, float]]]]


def laid(lines: Lines, streets: Sequence[str] | str = "") -> tuple[pd.DataFrame, Network]:
    names = [name for name, _ in lines]
    table = mains_table(len(lines), pipe_id=names, street=streets, length_m=50.0)
    return table, network_of(lines)


def told(runs: Runs, table: pd.DataFrame) -> list[tuple[str, list[str]]]:
    """Name and pipes of each run."""
    names = table["pipe_id"].to_numpy()[runs.row]
    firsts = np.flatnonzero(np.diff(runs.run, prepend=-1))
    parts = np.split(names, firsts[1:]) if len(names) else []
    return [(runs.name[at], list(part)) for at, part in zip(firsts, parts, strict=True)]


def test_the_mains_of_a_street_follow_each_other_whatever_their_ids() -> None:
    names = ["P30", "P4", "P100", "P7"]
    lines = [(n, [(50.0 * k, 0.0), (50.0 * k + 50, 0.0)]) for k, n in enumerate(names)]
    table, network = laid(lines, "Mill Lane")
    assert told(runs_of(table, network), table) == [("Mill Lane", ["P7", "P100", "P4", "P30"])]


def test_parts_between_devices_are_one_main() -> None:
    lines = [("P1", [(0, 0), (30, 0), (60, 0)]), ("P2", [(90, 0), (60, 0)])]
    table, network = laid(lines, "Mill Lane")
    assert len(network.pipes) == 3
    assert told(runs_of(table, network), table) == [("Mill Lane", ["P1", "P2"])]


def test_a_street_in_two_places_is_two_runs() -> None:
    lines = [("P1", [(0, 0), (50, 0)]), ("P2", [(90, 0), (140, 0)])]
    table, network = laid(lines, "Mill Lane")
    assert told(runs_of(table, network), table) == [("Mill Lane", ["P1"]), ("Mill Lane", ["P2"])]


CROSS: Lines = [
    ("P1", [(0, 0), (50, 0)]),
    ("P2", [(50, 0), (50, 50)]),
    ("P3", [(50, 0), (100, 1)]),
    ("P4", [(51, -50), (50, 0)]),
]


def test_where_more_than_two_meet_those_that_go_on_straightest_follow_each_other() -> None:
    table, network = laid(CROSS, "Mill Lane")
    assert [p for _, p in told(runs_of(table, network), table)] == [["P1", "P3"], ["P2", "P4"]]


def test_of_ways_as_straight_the_first_ids_follow_each_other() -> None:
    lines: Lines = [
        ("P1", [(0, 0), (-50, 0)]),
        ("P2", [(0, 0), (25, 43.301)]),
        ("P3", [(0, 0), (25, -43.301)]),
    ]
    table, network = laid(lines, "Mill Lane")
    assert [p for _, p in told(runs_of(table, network), table)] == [["P1", "P2"], ["P3"]]


def test_streets_keep_apart_where_they_cross() -> None:
    table, network = laid(CROSS, ["Mill Lane", "High Street", "Mill Lane", "High Street"])
    found = told(runs_of(table, network), table)
    assert found == [("Mill Lane", ["P1", "P3"]), ("High Street", ["P2", "P4"])]


def test_without_a_street_runs_end_at_junctions_and_are_called_by_their_first_pipe() -> None:
    lines = [*CROSS, ("P5", [(150.0, 0.0), (100.0, 1.0)]), ("P6", [(150.0, 0.0), (200.0, 0.0)])]
    table, network = laid(lines)
    assert told(runs_of(table, network), table) == [
        ("P1", ["P1"]),
        ("P2", ["P2"]),
        ("P3", ["P3", "P5", "P6"]),
        ("P4", ["P4"]),
    ]


def test_a_pipe_that_is_no_main_makes_a_junction_too() -> None:
    lines: Lines = [*row_of([50.0, 50.0]), ("X", [(50.0, 0.0), (50.0, 20.0)])]
    table, network = laid(lines)
    mains = table[table["pipe_id"] != "X"].reset_index(drop=True)
    assert [p for _, p in told(runs_of(mains, network), mains)] == [["P1"], ["P2"]]


def test_a_tee_in_the_middle_of_a_main_is_no_end_of_it() -> None:
    lines: Lines = [("P1", [(0, 0), (50, 0), (100, 0)]), ("P2", [(50, 0), (50, 40)])]
    table, network = laid(lines, "Mill Lane")
    assert [p for _, p in told(runs_of(table, network), table)] == [["P1"], ["P2"]]


@pytest.mark.parametrize("street", ["", "The Close"])
def test_a_ring_begins_at_its_first_pipe(street: str) -> None:
    corners = [(0, 0), (50, 0), (50, 50), (0, 50), (0, 0)]
    names = ["P3", "P1", "P4", "P2"]
    lines = [(n, corners[k : k + 2]) for k, n in enumerate(names)]
    table, network = laid(lines, street)
    assert told(runs_of(table, network), table) == [(street or "P1", ["P1", "P3", "P2", "P4"])]


def test_two_mains_side_by_side_and_one_that_closes_on_itself() -> None:
    lines: Lines = [
        ("P1", [(0, 0), (50, 0)]),
        ("P2", [(0, 0), (25, 20), (50, 0)]),
        ("P3", [(200, 0), (250, 0), (250, 50), (200, 0)]),
    ]
    table, network = laid(lines, "Mill Lane")
    assert [p for _, p in told(runs_of(table, network), table)] == [["P1", "P2"], ["P3"]]


def test_a_main_that_the_network_does_not_hold_is_a_run_of_its_own() -> None:
    table, network = laid(row_of([50.0, 50.0]), "Mill Lane")
    more = mains_table(3, pipe_id=["P1", "P2", "P9"], street="Mill Lane", length_m=50.0)
    found = told(runs_of(more, network), more)
    assert found == [("Mill Lane", ["P1", "P2"]), ("Mill Lane", ["P9"])]
    assert told(runs_of(table.iloc[:0], network), table.iloc[:0]) == []


@settings(max_examples=examples(5), deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_of_rows_of_nodes_and_direction_of_pipes_change_nothing(random: object) -> None:
    rates, _, network = town(120, draws=2)
    table = rates.table
    rows = list(range(len(table)))
    random.shuffle(rows)  # type: ignore[attr-defined]
    nodes = np.arange(len(network.nodes))
    random.shuffle(nodes)  # type: ignore[attr-defined]
    where = np.argsort(nodes)
    pipes = network.pipes.assign(
        start_position=where[network.pipes["end_position"].to_numpy()],
        end_position=where[network.pipes["start_position"].to_numpy()],
        geometry=network.pipes.geometry.reverse(),
    ).sort_index(ascending=False)
    mixed = table.iloc[rows].reset_index(drop=True)
    other = replace(network, pipes=pipes, nodes=network.nodes.iloc[nodes])
    assert told(runs_of(mixed, other), mixed) == told(runs_of(table, network), table)


def test_every_main_is_in_one_run_and_neighbours_meet() -> None:
    rates, _, network = town(300, draws=2)
    runs = runs_of(rates.table, network)
    assert sorted(runs.row) == list(range(300))
    ends = network.pipes.set_index("layer_pipe_id")[["start_position", "end_position"]]
    names = rates.table["pipe_id"].to_numpy()[runs.row]
    street = rates.table["street"].to_numpy()[runs.row]
    for one in np.flatnonzero(np.diff(runs.run) == 0):
        assert set(ends.loc[names[one]]) & set(ends.loc[names[one + 1]])
        assert street[one] == street[one + 1]


def test_what_is_left_on_either_side_are_runs_of_their_own() -> None:
    table, network = laid(row_of([10.0, 20.0, 30.0, 40.0, 50.0]), "Mill Lane")
    runs = runs_of(table, network)
    left = left_of(runs, np.array([True, True, False, True, False]))
    assert told(left, table) == [("Mill Lane", ["P1", "P2"]), ("Mill Lane", ["P4"])]
    nothing = left_of(runs, np.zeros(5, dtype=bool))
    assert len(nothing.row) == len(nothing.run) == 0


def test_ids_count_as_people_count() -> None:
    assert natural_order(pd.Series(["P10", "P9", "P2"])).tolist() == [2, 1, 0]
