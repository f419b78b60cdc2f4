"""Tests of `district.isolate.step_order`."""

from __future__ import annotations

from datetime import time

import networkx as nx
import numpy as np
import pytest

from district.isolate.step_order import Night, actions, turns_of
from district.isolate.step_zone import zone_segments
from tests.isolate.chance import SUPPLY, ways
from tests.isolate.towns import cut, town

NIGHT = Night(time(1, 30), time(4, 30))


def test_the_night_has_room_for_so_many_valves() -> None:
    """By hand: 180 min less 75 for a reading and 4 steps, less 20 to open: 85, 10 a valve more."""
    assert NIGHT.most_extra_count(4) == 8
    assert NIGHT.most_steps_count() == 8
    assert Night(time(2), time(2, 30)).most_steps_count() == 0
    over_midnight = Night(time(23), time(1))
    assert over_midnight.window_s() == 7200
    assert over_midnight.at(3600 + 300) == "00:05"


@pytest.mark.parametrize("wide", ["P2", "P4"])
def test_the_loop_is_opened_first_where_the_pipe_is_narrow(wide: str) -> None:
    network = town(of_pipes={name: {"diameter_mm": 200.0 if name == wide else 80.0} for name in
                             ("P1", "P2", "P3", "P4", "P5", "P6", "P7")})  # fmt: skip
    segments = cut(network)
    zone = zone_segments(network, segments, "supply S")
    of = dict(zip(network.pipes.index, zone.pipe.tolist(), strict=True))
    part = np.zeros(zone.count(), dtype=np.int64)
    # Sections: P5 and P4, then P2 with P6, then P3 and P7 behind it.
    part[of["P4/2"]] = 1
    part[of["P2/2"]] = 2
    part[of["P3/2"]] = part[of["P7/2"]] = 3
    turns = turns_of(network, segments.piping, zone, part)
    names = segments.piping.gate_valves
    prepared = [names[g][0] for g in turns.prepare]
    steps = [names[g][0] for g in turns.step]
    assert prepared == ["V5"]
    assert steps[0] == "V3"  # the far end first
    assert set(steps) == {"V2", "V3", "V4"}
    assert turns.section[of["P3/2"]] == 1
    assert turns.section[0] == 0


def test_every_step_makes_its_section_dry_and_no_other_and_all_is_opened_again() -> None:
    """Walked by a general graph library, valve after valve."""
    network = town()
    segments = cut(network)
    zone = zone_segments(network, segments, "supply S")
    part = np.array([0, 0, 1, 2, 3, 2])
    turns = turns_of(network, segments.piping, zone, part)
    table = actions(network, segments.piping, turns, NIGHT)
    gate_of = {v[0]: g for g, v in enumerate(segments.piping.gate_valves)}
    graph = ways(segments.piping)
    section = np.append(turns.section, -1)[zone.pipe]
    shut: list[str] = []
    for row in table.itertuples():
        if row.action in ("prepare", "step"):
            gate = gate_of[row.valve_id]
            ends = int(segments.piping.gate_start[gate]), int(segments.piping.gate_end[gate])
            graph.remove_edge(*ends, key=f"gate {gate}")
            shut.append(row.valve_id)
        if row.action == "reopen":
            shut.remove(row.valve_id)
            continue
        done = int(row.section_id or 0)
        wet = nx.node_connected_component(graph, SUPPLY)
        dry = np.array([int(n) not in wet for n in segments.piping.start])
        assert (dry == ((section > 0) & (section <= done))).all()
    assert shut == []
    assert table["begins_s"].is_monotonic_increasing
    assert table["ends_s"].iloc[-1] <= NIGHT.window_s()
    opened = table.loc[table["action"] == "reopen", "valve_id"].tolist()
    closed = table.loc[table["action"].isin(["prepare", "step"]), "valve_id"].tolist()
    assert opened == closed[::-1]
