"""Tests of `district.survey.set_ups`."""

from __future__ import annotations

from itertools import pairwise

import pytest

from district.survey.set_ups import delay_at, materials_of, set_ups_of, speed_of
from tests.survey.conftest import TOLD, Scene, scene_of
from tests.survey.scenes import ladder


def ends(scene: Scene, stretch: str) -> list[tuple[str, str]]:
    found, _ = set_ups_of(scene.hearing, scene.pieces[stretch])
    name = scene.fittings.name
    return [(str(name[f.first]), str(name[f.other])) for f in found]


def test_two_sensors_of_the_main_about_the_piece(scene: Scene) -> None:
    assert ends(scene, "B") == [("M1", "V2")]
    assert ends(scene, "G") == [("V3", "N1")]
    (found,), bare = set_ups_of(scene.hearing, scene.pieces["B"])
    assert bare == []
    assert found.between_m == pytest.approx(180.0)
    assert found.length_m.sum() == pytest.approx(180.0)
    assert found.first_m == pytest.approx(-70.0)
    assert list(materials_of(scene.hearing, found)) == ["cast_iron"]


def test_the_delay_by_the_formula(scene: Scene) -> None:
    """L = 2 l + TD v, Thornton, Sturm & Kunkel 2008, figure 16.10 (seen): l from the sensor that
    hears it first."""
    (found,), _ = set_ups_of(scene.hearing, scene.pieces["B"])
    speed, spread = speed_of(scene.hearing, found)
    for along in (0.0, 20.0, 50.0, 100.0):
        delay = delay_at(scene.hearing, found, along)
        to_first = along + 70.0
        nearer = min(to_first, 180.0 - to_first)
        assert 2 * nearer + abs(delay.middle_ms) / 1000 * speed == pytest.approx(180.0)
        assert (delay.middle_ms > 0) == (to_first > 90)  # later to the farther
        assert delay.low_ms < delay.middle_ms < delay.high_ms
    assert delay.high_ms >= delay.middle_ms / (1 - spread)
    beyond = delay_at(scene.hearing, found, -500.0)
    assert beyond.middle_ms == pytest.approx(-1000 * 180 / speed)


def test_a_test_site_is_met() -> None:
    """Gao, Brennan, Joseph, Muggleton & Hunaidi 2004, J Sound Vib 277, 133-148 (numbers from
    memory): PVC, 102.6 m between the sensors, the leak 73.5 m from one; 484 m/s was measured there,
    and the delay derived from it, 91.7 ms, lies within the limits by material."""
    network = ladder(spacing_m=102.6, **dict.fromkeys("ABCEFG", "pvc"))
    own = scene_of(network, TOLD)
    (found, *_), _ = set_ups_of(own.hearing, own.pieces["B"])
    middle = found.first_m + 73.5 / 102.6 * found.between_m
    delay = delay_at(own.hearing, found, middle)
    at_484 = 1000 * (2 * 73.5 / 102.6 - 1) * found.between_m / 484
    assert delay.low_ms <= at_484 <= delay.high_ms


def test_a_long_way_of_plastic_needs_several() -> None:
    plastic = scene_of(ladder(**dict.fromkeys(("A", "B", "C", "R1", "R2"), "pvc")), TOLD)
    found, bare = set_ups_of(plastic.hearing, plastic.pieces["B"])
    assert len(found) >= 2
    assert all(f.between_m <= f.largest_m + 1e-9 for f in found)
    assert all(f.largest_m == pytest.approx(50.0) for f in found)
    covered = sum(f.to_m - f.from_m for f in found) + sum(b - a for a, b in bare)
    assert covered >= 100.0 - 5.0
    for one, following in pairwise(found):
        assert following.from_m == pytest.approx(one.to_m)


def test_where_no_two_fittings_enclose_it(scene: Scene) -> None:
    found, bare = set_ups_of(scene.hearing, scene.pieces["Q"])
    assert found == []
    assert bare == [(0.0, 100.0)]
    # A dead end: nothing stands beyond it.
    assert set_ups_of(scene.hearing, scene.pieces["E"]) == ([], [(0.0, 50.0)])
