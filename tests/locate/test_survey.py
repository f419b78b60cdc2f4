"""Tests of `district.locate.survey`."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.survey import missed_share, survey_evidence
from district.schema import empty
from district.schema.field_records import CORRELATIONS, SURVEYS
from tests.locate.field_scene import at, rows, scene_of

SCENE = scene_of()


def surveyed(*given: dict[str, object]) -> list[object]:
    table = rows(SURVEYS, *({"date": "2025-11-02", **row} for row in given))
    return survey_evidence(SCENE, table, empty(CORRELATIONS))  # type: ignore[return-value]


def test_nothing_found_leaves_the_chance_that_it_was_missed() -> None:
    (told,) = surveyed({"pipe_id": "P2", "detection_share": 0.7})
    likely = told.log_likelihood
    assert at(SCENE, likely, 300) == pytest.approx(np.log(0.3), abs=1e-3)
    assert at(SCENE, likely, 150) == 0.0
    assert told.said == (
        "Nothing found by listening on pipe P2 on 2025-11-02, 200 m: a leak there would have "
        "shown in 70 % of cases."
    )


def test_a_part_of_a_pipe_counts_from_its_western_end() -> None:
    (told,) = surveyed({"pipe_id": "P3", "from_m": 150.0, "to_m": 50.0, "detection_share": 0.5})
    likely = told.log_likelihood
    assert at(SCENE, likely, 500) == pytest.approx(np.log(0.5), abs=1e-3)
    assert {at(SCENE, likely, x) for x in (435, 565)} == {0.0}


def test_methods_find_less_on_plastic_and_a_walk_little() -> None:
    listened, walked = (
        survey_evidence(
            SCENE,
            rows(
                SURVEYS, *({"date": "2025-11-02", "pipe_id": p, "method": m} for p in ("P2", "P3"))
            ),
            empty(CORRELATIONS),
        )[0].log_likelihood
        for m in ("listening", "walk")
    )
    assert at(SCENE, listened, 300) < at(SCENE, listened, 500) < at(SCENE, walked, 500) < 0


def test_a_leak_missed_once_is_more_likely_missed_again() -> None:
    survey = (np.array([1]), np.array([0.7]))
    once, twice = missed_share([survey], 2), missed_share([survey, survey], 2)
    assert once == pytest.approx([1.0, 0.3], abs=1e-3)
    assert 0.3**2 < twice[1] < 0.3


def test_no_chance_is_so_high_that_a_pipe_is_ruled_out() -> None:
    (told,) = surveyed({"pipe_id": "P2", "detection_share": 1.0})
    assert at(SCENE, told.log_likelihood, 300) == pytest.approx(np.log(0.05), abs=0.01)


def test_what_was_found_speaks_for_its_pipe() -> None:
    (told,) = surveyed({"pipe_id": "P4", "found": True, "method": "correlator"})
    assert at(SCENE, told.log_likelihood, 200, 55) == pytest.approx(0.0)
    assert at(SCENE, told.log_likelihood, 300) == pytest.approx(np.log(0.15))
    assert "Leak found by correlator on pipe P4" in told.said


def test_what_the_correlator_found_counts_once() -> None:
    """The crew files one find twice: the delay as a correlation, and the pipe as a survey."""
    find = {"date": "2025-11-02", "pipe_id": "P2", "method": "correlator", "found": True}
    listened = {**find, "method": "ground_microphone", "pipe_id": "P3"}
    heard = {"date": "2025-11-02", "first_id": "V1", "other_id": "V2", "delay_ms": 0.0}

    def used(*surveys: dict[str, object], **changed: object) -> list[bool]:
        correlations = rows(CORRELATIONS, {**heard, **changed})
        return [e.used for e in survey_evidence(SCENE, rows(SURVEYS, *surveys), correlations)]

    assert used(find) == [False]
    assert used(find, listened) == [False, True]
    assert used({**find, "method": "ground_microphone"}) == [True]
    assert used({**find, "pipe_id": "P4"}) == [True]
    assert used(find, date="2025-11-03") == [True]
    assert used(find, delay_ms=900.0) == [True]  # a correlation that cannot count itself
    (told,) = survey_evidence(SCENE, rows(SURVEYS, find), rows(CORRELATIONS, heard))
    assert told.said == (
        "Leak found by correlator on pipe P2 on 2025-11-02: the correlation of that day says it "
        "already, not counted."
    )


def test_a_survey_before_the_leak_is_listed_and_does_not_count() -> None:
    late, early = surveyed({"pipe_id": "P2"}, {"pipe_id": "P2", "date": "2025-10-01"})
    assert late.used
    assert not early.used
    assert early.said == (
        "Survey of pipe P2 on 2025-10-01: before the leak began (2025-10-18 at the earliest), "
        "not counted."
    )


def test_one_that_may_have_been_before_counts_by_its_chance() -> None:
    (told,) = surveyed({"pipe_id": "P2", "date": "2025-10-20", "detection_share": 0.8})
    assert at(SCENE, told.log_likelihood, 300) == pytest.approx(np.log(1 - 0.8 * 0.5), abs=1e-3)


def test_a_stretch_beyond_the_pipe_says_so() -> None:
    (told,) = surveyed({"pipe_id": "P2", "from_m": 900.0})
    assert not told.used
    assert "no stretch of the map from from_m to to_m" in told.said


def test_pipes_of_another_zone_are_none_of_this_one() -> None:
    assert surveyed({"pipe_id": "P99"}) == []
