"""Tests of `district.locate.acoustic`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.locate.acoustic import acoustic_evidence, rise_db
from district.locate.spots import Evidence
from tests.locate.field_scene import LEAK, at, best_x_m, scene_of

SCENE = scene_of()


def nights(rises_db: dict[str, float], first: str = "2025-09-20", seed: int = 1) -> pd.DataFrame:
    random = np.random.default_rng(seed)
    dates = pd.date_range(first, "2025-11-20")
    louder = dates >= pd.Timestamp(LEAK.start)
    parts = [
        pd.DataFrame(
            {
                "device_id": name,
                "night": dates,
                "level_db": 20 + random.normal(0, 1, len(dates)) + rise * louder,
                "readings_count": 8,
            }
        )
        for name, rise in rises_db.items()
    ]
    return pd.concat(parts, ignore_index=True)


def told(rises_db: dict[str, float]) -> Evidence:
    (evidence,) = acoustic_evidence(SCENE, nights(rises_db))
    return evidence


def test_the_logger_that_grew_louder_draws_the_search_to_it() -> None:
    evidence = told({"X1": 25.0, "X2": 0.0})
    assert best_x_m(SCENE, evidence.log_likelihood) == pytest.approx(300, abs=60)
    assert at(SCENE, evidence.log_likelihood, 575) < -2
    assert "Of 2 acoustic loggers, X1 grew louder by night by 25 dB since 2025-10-23" in (
        evidence.said
    )
    other = told({"X1": 0.0, "X2": 25.0})
    assert best_x_m(SCENE, other.log_likelihood) == pytest.approx(580, abs=20)


def test_silence_speaks_against_the_pipes_beside_it_and_farther_on_metal() -> None:
    likely = told({"X1": 0.0, "X2": 0.0}).log_likelihood
    assert at(SCENE, likely, 300) < -1
    assert at(SCENE, likely, 575) < -1
    # 70 m of iron from X1 is within its hearing, 70 m of PVC from X2 is not.
    assert at(SCENE, likely, 370) < at(SCENE, likely, 510) - 0.5


def test_one_logger_that_went_wrong_decides_nothing_alone() -> None:
    evidence = told({"X1": 25.0, "X2": -40.0})
    assert best_x_m(SCENE, evidence.log_likelihood) == pytest.approx(300, abs=60)
    assert evidence.log_likelihood.min() >= np.log(0.02) - 1e-9


def test_powers_add() -> None:
    # By definition of the decibel: two equal powers are 3.01 dB above one.
    assert rise_db(np.array(20.0), np.array(20.0)) == pytest.approx(3.0103, abs=1e-4)
    assert rise_db(np.array(30.0), np.array(0.0)) == pytest.approx(30.0, abs=0.01)
    assert rise_db(np.array(20.0), np.array(60.0)) == pytest.approx(0.0, abs=1e-3)


def test_too_few_nights_before_and_a_start_not_known() -> None:
    (few,) = acoustic_evidence(SCENE, nights({"X1": 9.0}, first="2025-10-16"))
    assert not few.used
    assert "fewer than 5 nights before 2025-10-18" in few.said
    unknown = scene_of(replace(LEAK, start=None, start_low=None, start_high=None))
    (evidence,) = acoustic_evidence(unknown, nights({"X1": 9.0}))
    assert not evidence.used


def test_a_logger_of_nowhere_is_not_heard() -> None:
    assert acoustic_evidence(SCENE, nights({"X9": 20.0})) == []


def test_a_logger_off_the_map_hears_no_pipe() -> None:
    sensors = SCENE.network.sensors.copy()
    sensors.loc["X2", "pipe_id"] = ""
    scene = replace(SCENE, network=replace(SCENE.network, sensors=sensors))
    (evidence,) = acoustic_evidence(scene, nights({"X1": 25.0, "X2": 0.0}))
    assert "Of 1 acoustic logger, X1" in evidence.said
