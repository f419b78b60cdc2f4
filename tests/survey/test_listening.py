"""Tests of `district.survey.listening`."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.survey.listening import GROUND, listening_points, material_at
from tests.examples import examples
from tests.survey.conftest import TOLD, Scene, scene_of
from tests.survey.scenes import ladder


def named(scene: Scene, stretch: str, apart_m: float, plastic_m: float = 15.0) -> list[str]:
    points = listening_points(
        scene.pieces[stretch], scene.fittings, apart_m=apart_m, apart_plastic_m=plastic_m
    )
    return ["" if p.fitting == GROUND else str(scene.fittings.name[p.fitting]) for p in points]


def test_fittings_first_then_the_ground(scene: Scene) -> None:
    assert named(scene, "B", 30.0) == ["V1", "H5", "H6", "H7", ""]
    assert named(scene, "B", 100.0) == ["V1", "H6"]
    assert named(scene, "G", 60.0) == ["HY1"]
    assert named(scene, "Q", 100.0) == [""]


def test_nearer_together_on_plastic() -> None:
    plastic = scene_of(ladder(Q="pvc"), TOLD)
    assert len(named(plastic, "Q", 30.0)) > len(named(plastic, "Q", 30.0, 30.0))
    assert material_at(plastic.pieces["Q"].line, 50.0) == "pvc"


@settings(max_examples=examples(15), deadline=None, derandomize=True)
@given(st.floats(4, 120), st.sampled_from(["B", "G", "Q", "R2", "E"]))
def test_no_place_is_farther_than_half_of_it_from_a_point(apart_m: float, stretch: str) -> None:
    piece = SCENE.pieces[stretch]
    points = listening_points(piece, SCENE.fittings, apart_m=apart_m, apart_plastic_m=5.0)
    along = np.array([p.along_m for p in points])
    assert along.tolist() == sorted(along)
    places = np.linspace(piece.from_m, piece.to_m, 200)
    far = np.abs(places[:, None] - along).min(axis=1)
    assert far.max() <= apart_m / 2 + 1.0


def test_the_ground_is_walked_evenly(scene: Scene) -> None:
    points = listening_points(scene.pieces["Q"], scene.fittings, apart_m=50.0, apart_plastic_m=5)
    assert [p.along_m for p in points] == pytest.approx([25.0, 75.0])


SCENE = scene_of(ladder(), TOLD)
