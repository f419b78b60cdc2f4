from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import still_words

ROW: dict[str, Any] = {
    "rule": "never_zero", "verdict": "constant_flow", "constant_l_s": 0.002,
    "constant_l_s_low": 0.0018, "constant_l_s_high": 0.0022, "since": pd.Timestamp("2025-03-23"),
    "since_known": True, "steady": True, "rate": False, "q1_l_s": np.nan, "event": "",
    "step_l": 1.0, "spell_h": 9.0, "habit": False, "idle_since": pd.Timestamp("2025-05-01"),
    "idle_days": 40, "left_days": 40, "before_days": 1.2, "lived": True, "others": 0,
    "others_live": 0, "together": 0, "stuck_h": 72.0, "stale": False, "daily": False,
    "step_h": 1.0, "hours_count": 30.0, "last": pd.Timestamp("2025-05-01"),
    "process": False, "run_since": pd.Timestamp("2025-04-28"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "173 (156 to 190) L a day runs without a stop since 2025-03-23: about as much as a "
         "cistern that loses half a cup a minute. A flush draws about six litres and then "
         "nothing; this does not stop."),
        ({"since_known": False}, "since 2025-03-23 or before: about"),
        ({"rule": "lone_steps", "since": pd.NaT}, "without a stop, by lone steps of 1 L"),
        ({"rule": "empty_hours"}, "by the hours when nobody is there: about"),
        ({"steady": False}, "people who draw at all hours would show so"),
        ({"process": True}, "ask whether a process draws at all hours"),
        ({"rate": True}, "does not return to zero"),
        ({"q1_l_s": 0.007}, "Below its Q1, 25 L/h"),
        ({"event": "E-7"}, "See event E-7."),
    ],
)  # fmt: skip
def test_constant_flow(changed: dict[str, Any], words: str) -> None:
    assert words in still_words.constant(ROW | changed)


def test_flow_while_nobody_is_there() -> None:
    said = still_words.while_empty(ROW | {"rule": "empty_hours", "spell_h": 8.0})
    assert said.startswith("While nobody was there since 2025-03-23, 173 (156 to 190) L a day")
    assert "it stops for up to 8 hours" in said
    two = still_words.while_empty(ROW | {"rule": "two_readings", "since": pd.NaT})
    assert "Two readings do not tell whether it stops" in two


STILL = ROW | {"verdict": "still", "rule": "", "constant_l_s_high": 0.0001}


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "It stood still for up to 9 h. No more than 8.6 L a day can run without a stop."),
        ({"constant_l_s_high": np.nan}, "It stood still for up to 9 h."),
        ({"rule": "two_readings"}, "Two readings around a time without anybody there"),
        ({"habit": True}, "It has had flow in every hour since 2025-04-28, as in other weeks"),
        ({"verdict": "below_resolution", "constant_l_s_high": 0.003, "step_l": 100.0},
         "As its register moves by 100 L, up to 260 L a day could run unseen"),
        ({"rule": "idle"}, "It shows nothing since 2025-05-01: people may be away."),
        ({"rule": "idle", "before_days": 30.0}, "since 2025-05-01, as for 30 days before."),
        ({"rule": "idle", "left_days": 0}, "while the premises stood empty or people were away"),
        ({"rule": "idle", "others": 2}, "nor does any other meter of the building"),
    ],
)  # fmt: skip
def test_a_meter_that_stands_still(changed: dict[str, Any], words: str) -> None:
    assert words in still_words.still(STILL | changed)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "It shows nothing since 2025-05-01; before, it never stood still for more than "
         "1.2 days: it is dead, its pipe is shut, or nobody is there."),
        ({"lived": False}, "It has shown nothing in 40 days of readings"),
        ({"left_days": 30}, "30 days of that are not on record as empty"),
        ({"others_live": 2}, "while 2 other meters of the building went on"),
        ({"together": 12}, "as 12 meters of its zone from that day on"),
    ],
)  # fmt: skip
def test_a_dead_meter(changed: dict[str, Any], words: str) -> None:
    assert words in still_words.dead(ROW | changed)


def test_a_stuck_one_and_too_few_readings() -> None:
    assert "exactly the same flow for 3 days" in still_words.stuck(ROW)
    assert still_words.too_few(ROW | {"stale": True}) == "No readings since 2025-05-01."
    assert "(every 24 h)" in still_words.too_few(ROW | {"daily": True, "step_h": 24.0})
    assert "Read too seldom to tell" in still_words.too_few(ROW | {"daily": True, "step_h": np.nan})
    assert "Only 30 hours read lately" in still_words.too_few(ROW)
