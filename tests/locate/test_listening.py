"""Tests of `district.locate.listening`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from district.locate.listening import covariance, no_signs, signs_of
from district.locate.outlook import Outlook

Make = Callable[..., Outlook]
NONE = np.zeros(0, dtype=int)


def test_signs_taken_in_turn_tell_what_they_tell_together(outlook_of: Make) -> None:
    """Products of signs are those by the inverse covariance, however the readings are split."""
    heard = outlook_of(loggers=(9, 20, 33), places=(40, 12)).heard
    assert heard is not None
    spread = covariance(heard, 1.0)
    every = np.arange(5)
    change = heard.change_m.astype(float)
    wanted = change.T @ np.linalg.inv(spread) @ change
    whole = signs_of(heard, spread, NONE, every).middle
    first, then = (
        signs_of(heard, spread, NONE, every[:3]).middle,
        signs_of(heard, spread, every[:3], every[3:]).middle,
    )
    scale = np.abs(wanted).max()
    assert np.abs(whole.T @ whole - wanted).max() < 1e-4 * scale
    assert np.abs(first.T @ first + then.T @ then - wanted).max() < 1e-4 * scale


def test_what_the_model_does_not_know_weighs_with_the_leak(outlook_of: Make) -> None:
    heard = outlook_of(loggers=(9, 20), spread_share=0.3).heard
    assert heard is not None
    assert covariance(heard, 0.0) is heard.noise
    extra = covariance(heard, 2.0) - heard.noise
    assert extra == pytest.approx(4 * (covariance(heard, 1.0) - heard.noise))
    drawn = heard.drawn_m.astype(float).transpose(1, 0, 2).reshape(2, -1)
    assert extra == pytest.approx(4 * drawn @ drawn.T / drawn.shape[1], rel=1e-4)


def test_louder_noise_makes_the_drawn_signs_smaller(outlook_of: Make) -> None:
    heard = outlook_of(loggers=(9, 20), spread_share=0.0).heard
    assert heard is not None
    signs = signs_of(heard, covariance(heard, 1.0), NONE, heard.present())
    for share, drawn in zip(heard.noise_share, signs.drawn, strict=True):
        assert drawn * share == pytest.approx(signs.middle, rel=1e-3, abs=1e-6)


def test_loggers_there_and_places_for_more_are_told_apart(outlook_of: Make) -> None:
    heard = outlook_of(loggers=(9, 20), places=(3, 4, 5)).heard
    assert heard is not None
    assert heard.present().tolist() == [0, 1]
    assert [w.tolist() for w in heard.wanted()] == [[2], [3], [4]]
    some = heard.only(np.array([2, 5]))
    assert some.change_m.shape == (5, 2)
    assert some.drawn_m.shape[2] == 2


def test_nothing_heard_has_no_signs() -> None:
    signs = no_signs(7, 3)
    assert signs.middle.shape == (0, 7)
    assert signs.drawn.shape == (3, 0, 7)
