"""Tests of `district.survey.pieces`."""

from __future__ import annotations

import numpy as np
import pytest

from district.survey.pieces import (
    Piece,
    cut_to_fit,
    cut_where_ways_meet,
    meetings,
    pieces_of,
)
from tests.survey.conftest import Scene


def test_what_is_in_a_set_and_no_more(scene: Scene) -> None:
    spans = {name: (p.from_m, p.to_m) for name, p in scene.pieces.items()}
    assert spans == {
        "B": (0, 100), "R2": (0, 100), "G": (20, 80), "E": (0, 50), "Q": (0, 100),
    }  # fmt: skip
    assert scene.pieces["G"].probability_share == pytest.approx(0.18)
    assert pieces_of(scene.network, scene.stretches.assign(in_set=False), scene.likelihood) == []


def test_pieces_are_cut_where_three_ways_meet_and_not_at_valves(scene: Scene) -> None:
    meets = meetings(scene.network)
    assert meets.sum() == 4  # (100, 0), (200, 0), (300, 0) and (200, 100)
    assert len(cut_where_ways_meet([scene.pieces["B"]], meets)) == 1
    piece = scene.pieces["R2"]
    everywhere = np.ones_like(meets)
    halves = cut_where_ways_meet([piece], everywhere)
    assert [(h.from_m, h.to_m) for h in halves] == [(0, 90), (90, 100)]


def test_what_is_too_long_is_halved_at_a_node_or_in_the_middle(scene: Scene) -> None:
    def short(piece: Piece) -> bool:
        return piece.length_m <= 40

    cut = cut_to_fit([scene.pieces["E"], scene.pieces["B"]], short)
    assert [(p.line.stretch_id, p.from_m, p.to_m) for p in cut] == [
        ("E", 0, 25), ("E", 25, 50), ("B", 0, 25), ("B", 25, 50), ("B", 50, 75), ("B", 75, 100),
    ]  # fmt: skip
    at_node = cut_to_fit([Piece(scene.pieces["R2"].line, 75, 100)], lambda p: p.length_m <= 20)
    assert [(p.from_m, p.to_m) for p in at_node] == [(75, 90), (90, 100)]
    assert len(cut_to_fit([scene.pieces["B"]], lambda _: False)) == 2**6
