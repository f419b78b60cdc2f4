from __future__ import annotations

import numpy as np

from district.intake.changes import changed_at

TIME = np.arange(40) * 3600
DAY = (10 * 3600, 34 * 3600)


def test_the_fall_in_the_span_is_the_change() -> None:
    value = np.append(5000 + np.arange(20.0), np.arange(20.0))
    assert changed_at(TIME, value, [DAY]) == [20]
    assert changed_at(TIME, value, [(0, 5 * 3600)]) == []


def test_a_misread_that_comes_back_is_none() -> None:
    value = 5000 + np.arange(40.0)
    value[20] = 3
    assert changed_at(TIME, value, [DAY]) == []


def test_a_jump_in_the_span_is_one_too() -> None:
    value = np.append(500 + np.arange(20.0), 7000 + np.arange(20.0))
    assert changed_at(TIME, value, [DAY]) == [20]


def test_three_reads_on_foot_are_enough_for_a_jump() -> None:
    time = np.array([0, 100, 200, 300]) * 86_400
    value = np.array([10.0, 20.0, 900.0, 911.0])
    assert changed_at(time, value, [(150 * 86_400, 151 * 86_400)]) == [2]


def test_a_register_that_goes_on_says_nothing() -> None:
    assert changed_at(TIME, np.arange(40.0), [DAY, (10**9, 10**9 + 1), (-9, -1)]) == []
    assert changed_at(TIME[:1], np.zeros(1), [DAY]) == []
