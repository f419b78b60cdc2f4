"""Tests of `district.locate.scene`."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from district.locate.scene import tempered, there_share, too_early
from tests.locate.field_scene import LEAK, scene_of


@pytest.mark.parametrize(
    ("day", "share"),
    [(17, 0.0), (18, 0.0), (19, 0.25), (20, 0.5), (21, 2 / 3), (23, 1.0), (30, 1.0)],
)
def test_a_leak_is_there_from_its_start_on(day: int, share: float) -> None:
    assert there_share(scene_of(), date(2025, 10, day)) == pytest.approx(share)


def test_a_start_that_is_known_is_a_step() -> None:
    scene = scene_of(replace(LEAK, start_low=None, start_high=None))
    assert [there_share(scene, date(2025, 10, d)) for d in (19, 20)] == [0.0, 1.0]


def test_an_excess_without_start_was_there_for_a_year() -> None:
    scene = scene_of(replace(LEAK, start=None, start_low=None, start_high=None))
    assert there_share(scene, date(2025, 1, 5)) == 1.0
    assert there_share(scene, date(2024, 11, 5)) == 0.0
    assert too_early(scene) == "more than a year old"
    assert "2025-10-18" in too_early(scene_of())


def test_no_record_rules_a_spot_out() -> None:
    said = tempered(np.array([0.0, -5.0, -np.inf]), wrong_share=0.05)
    assert said[0] == pytest.approx(0.0)
    assert said[2] == pytest.approx(np.log(0.05))
    doubtful = tempered(np.array([0.0, -np.inf]), wrong_share=0.05, there_share=0.5)
    assert doubtful[1] == pytest.approx(np.log(1 - 0.95 * 0.5))
    assert tempered(np.array([-1e9, -1e9 - 1]), wrong_share=0.1)[0] == pytest.approx(0.0)


def test_evidence_is_nothing_in_other_zones() -> None:
    scene = scene_of()
    told = scene.evidence("survey", "x", np.full(int(scene.own.sum()), -1.0))
    assert set(told.log_likelihood[~scene.own]) == {0.0}
    assert not scene.unused("survey", "Why").used
    assert scene.unused("survey", "Why").said == "Why, not counted."
