from __future__ import annotations

import pytest

from district.plan.outage import dry_users
from district.plan.parts import parts_of
from district.results import Isolation
from tests.plan.cost_scene import isolation, layer_of, network

PARTS = parts_of(layer_of()["pipe_id"], network())


def test_each_part_counts_by_its_length() -> None:
    dry = dry_users(PARTS, isolation())
    # T1, A1 (a quarter before the valve), B1, C1, and the pipe that the network does not hold.
    assert dry.people_count.value.tolist() == pytest.approx([100, 0.25 * 100 + 30, 40, 100, 0])
    assert dry.people_count.low.tolist() == pytest.approx([60, 0.25 * 60 + 18, 24, 60, 0])
    assert dry.people_count.high.tolist() == pytest.approx([140, 0.25 * 140 + 42, 56, 140, 0])
    assert dry.properties_count.tolist() == pytest.approx([50, 27.5, 20, 50, 0])
    assert dry.critical_count.tolist() == pytest.approx([1, 0.25, 0, 1, 0])
    assert dry.segments.tolist() == ["T1", "B1, T1", "B1", "T1", ""]
    assert dry.told.tolist() == [True, True, True, True, False]


def test_a_part_in_no_segment_leaves_the_whole_to_the_others() -> None:
    whole = isolation()
    first = network().pipes.index[
        (network().pipes["layer_pipe_id"] == "A1") & (network().pipes["length_m"] < 100)
    ]
    fewer = whole.segment_pipes[~whole.segment_pipes["pipe_id"].isin(first)]
    dry = dry_users(PARTS, Isolation(segment_pipes=fewer, segment_losses=whole.segment_losses))
    assert dry.people_count.value[1] == pytest.approx(40)


def test_without_segments_nobody_is_told() -> None:
    dry = dry_users(PARTS, Isolation())
    assert not dry.told.any()
    assert dry.people_count.high.tolist() == [0] * 5
    assert dry.segments.tolist() == [""] * 5
