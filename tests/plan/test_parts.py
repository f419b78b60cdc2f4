from __future__ import annotations

import pytest
from shapely.geometry import LineString

from district.plan.parts import parts_of
from tests.plan.cost_scene import PIPES, layer_of, network, network_of


def test_parts_by_main_and_their_shares() -> None:
    ids = layer_of()["pipe_id"].iloc[:4]
    parts = parts_of(ids, network())
    assert parts.mains_count == 4
    a1 = parts.main == 1
    assert parts.table.loc[a1, "length_m"].tolist() == pytest.approx([50, 150])
    assert parts.share()[a1].tolist() == pytest.approx([0.25, 0.75])
    assert parts.share().sum() == pytest.approx(4)
    assert parts.found().all()
    assert not parts.copies.any()


def test_a_copy_has_the_parts_of_the_pipe_it_copies() -> None:
    copy = {**PIPES[1], "pipe_id": "A2", "geometry": LineString([(200, 0.01), (400, 0.01)])}
    pipes = layer_of([*PIPES, copy])
    ids = pipes.loc[pipes["status"] == "in_use", "pipe_id"]
    parts = parts_of(ids, network_of(pipes))
    assert ids[parts.copies].tolist() == ["A2"]
    number = ids.tolist().index("A2")
    assert len(parts.table[parts.main == number]) == 2


def test_a_main_that_the_network_does_not_hold_has_none() -> None:
    parts = parts_of(layer_of()["pipe_id"], network())
    assert parts.found().tolist() == [True, True, True, True, False]
