"""Tests of `district.survey.rounds`."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point

from district.survey.ground import ground_of_pipes, ground_of_streets
from district.survey.pieces import Piece
from district.survey.rounds import Round, lay, round_of
from district.survey.starts import starts_of
from tests.survey.conftest import Scene
from tests.survey.scenes import streets_about


def made(
    scene: Scene, shift_min: float, depot: Point | None = None, *, among: str = "B R2 G E Q"
) -> Round:
    pieces = [scene.pieces[name] for name in among.split()]
    (start,) = starts_of(scene.network, pieces, [p.probability_share for p in pieces], depot)
    return round_of(
        ground_of_pipes(scene.network),
        pieces,
        start,
        flow_l_s=lambda p: p.probability_share,
        piece_min=lambda p: p.length_m / 10,
        m_min=60.0,
        shift_min=shift_min,
    )


def test_every_metre_once_in_every_order(scene: Scene) -> None:
    found = made(scene, 600.0)
    assert sum(p.length_m for p in found.pieces) == pytest.approx(410.0)
    for shifts in (found.shortest, found.soonest, found.by_density):
        tokens = np.concatenate(shifts)
        assert sorted(tokens >> 1) == list(range(len(found.pieces)))
    assert found.walked_m(found.shortest) <= found.walked_m(found.soonest) + 1e-6
    assert found.found_h(found.soonest) <= found.found_h(found.by_density) + 1e-9
    assert found.found_h(found.soonest) <= found.found_h(found.shortest) + 1e-9
    hours = 410 / 10 / 60 + found.walked_m(found.shortest) / 60 / 60
    assert found.work_h(found.shortest) == pytest.approx(hours)


def test_a_piece_that_overruns_a_shift_is_cut(scene: Scene) -> None:
    found = made(scene, 9.0, Point(100.0, 0.0), among="B R2")
    assert len(found.pieces) > 2
    assert sum(p.length_m for p in found.pieces) == pytest.approx(200.0)
    near = [s for s in found.shortest if "B" in {found.pieces[t >> 1].line.stretch_id for t in s}]
    assert all(found.pace.takes_min(s) <= 9.0 for s in near)


def test_the_start_stays_where_it_was_when_pieces_are_cut(scene: Scene) -> None:
    whole, cut = made(scene, 600.0), made(scene, 20.0)
    homes = [(r.laid.ground.x_m[r.laid.nodes[-1]], r.laid.ground.y_m[r.laid.nodes[-1]])
             for r in (whole, cut)]  # fmt: skip
    assert homes[0] == homes[1] == (100.0, 0.0)


def test_on_streets_the_ends_are_joined_to_them(scene: Scene) -> None:
    pieces = [scene.pieces["B"], scene.pieces["E"]]
    (start,) = starts_of(scene.network, pieces, [1, 1], Point(100.0, -10.0))
    laid = lay(ground_of_streets(streets_about(), tolerance_m=0.5), pieces, start)
    ends = {p.line.stretch_id: k for k, p in enumerate(pieces)}
    b, e = 2 * ends["B"], 2 * ends["E"]
    assert laid.apart_m[b, -1] == pytest.approx(10, abs=0.5)
    assert laid.apart_m[b + 1, e] == pytest.approx(10 + 100 + 10, abs=0.5)
    assert not laid.straight.any()


def test_nothing_is_written_to(scene: Scene) -> None:
    before = [Piece(p.line, p.from_m, p.to_m) for p in scene.pieces.values()]
    ends = [p.line.ends_m.copy() for p in before]
    made(scene, 20.0)
    for piece, kept, old in zip(scene.pieces.values(), before, ends, strict=True):
        assert (piece.from_m, piece.to_m) == (kept.from_m, kept.to_m)
        np.testing.assert_array_equal(piece.line.ends_m, old)
