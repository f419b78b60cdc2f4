"""Tests of `district.survey.legs`."""

from __future__ import annotations

import numpy as np
import pytest

from district.survey.ground import ground_of_pipes
from district.survey.legs import legs_of, shifts_of
from district.survey.pieces import Piece
from district.survey.rounds import Round, round_of
from district.survey.starts import starts_of
from tests.survey.conftest import Scene


def one_round(scene: Scene, pieces: list[Piece], shift_min: float = 600.0) -> Round:
    (start,) = starts_of(scene.network, pieces, [1.0] * len(pieces), None)
    return round_of(
        ground_of_pipes(scene.network),
        pieces,
        start,
        flow_l_s=lambda p: p.probability_share,
        piece_min=lambda p: p.length_m / 10,
        m_min=60.0,
        shift_min=shift_min,
    )


def test_pieces_of_one_line_walked_on_are_one_leg(scene: Scene) -> None:
    line = scene.pieces["B"].line
    found = one_round(scene, [Piece(line, a, a + 20) for a in (0, 20, 40, 60, 80)])
    (leg,) = legs_of(shifts_of([found]))
    assert (leg.piece.from_m, leg.piece.to_m) == (0, 100)
    assert leg.numbers == (0, 1, 2, 3, 4)
    assert leg.leg_min == pytest.approx(10.0)
    assert leg.flow_l_s == pytest.approx(0.4)


def test_what_lies_between_ends_the_leg(scene: Scene) -> None:
    line = scene.pieces["B"].line
    legs = legs_of(shifts_of([one_round(scene, [Piece(line, 0, 30), Piece(line, 60, 100)])]))
    assert {(leg.piece.from_m, leg.piece.to_m) for leg in legs} == {(0, 30), (60, 100)}
    assert legs[1].there_m >= 30.0 - 1e-6
    assert legs[1].before == legs[0].last


def test_shifts_and_the_clock(scene: Scene) -> None:
    found = one_round(scene, list(scene.pieces.values()), 40.0)
    shifts = shifts_of([found])
    legs = legs_of(shifts)
    assert len(shifts) >= 2
    worth = [s.flow_l_s / s.work_min for s in shifts]
    assert worth == sorted(worth, reverse=True)
    for number, shift in enumerate(shifts, start=1):
        own = [leg for leg in legs if leg.shift == number]
        np.testing.assert_allclose(
            np.cumsum([leg.leg_min for leg in own]), [leg.since_start_min for leg in own]
        )
        assert own[-1].since_start_min <= shift.work_min + 1e-9
