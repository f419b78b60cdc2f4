"""Two leaks are found as two, one as one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.locate.pressure_likelihood import Change
from district.locate.pressure_pairs import pairs

COUNT, LOGGERS = 20, 8


def street() -> Change:
    """Twenty spots, each felt most by the loggers near it."""
    near = np.linspace(0, 1, COUNT)[:, None] - np.linspace(0, 1, LOGGERS)
    made = -np.exp(-((near / 0.2) ** 2))
    return Change(
        seen_m=made[3],
        noise=0.02**2 * np.eye(LOGGERS),
        logger=np.arange(LOGGERS),
        block=np.zeros(LOGGERS, dtype=np.int64),
        expected_m=made,
        size_spread_share=0.05,
        drawn_m=np.zeros((COUNT, LOGGERS, 0)),
        first=np.arange(COUNT),
        second=np.arange(COUNT),
        share=np.full(COUNT, 0.5),
    )


EVEN = np.full(COUNT, 1 / COUNT)


def test_one_leak_is_better_explained_by_one() -> None:
    found = pairs(street(), np.arange(COUNT), EVEN)
    assert found.one.argmax() == 3
    assert np.exp(found.one).mean() > np.exp(found.two).mean()


def test_two_leaks_are_found_with_their_shares() -> None:
    told = street()
    told = replace(told, seen_m=0.75 * told.expected_m[2] + 0.25 * told.expected_m[15])
    found = pairs(told, np.arange(COUNT), EVEN)
    assert set(np.unravel_index(found.two.argmax(), found.two.shape)) == {2, 15}
    assert found.first_share[2, 15] == pytest.approx(0.75, abs=0.06)
    assert np.exp(found.one - found.two.max()).max() < 1e-3
    assert found.two == pytest.approx(found.two.T)


def test_spots_of_one_pipe_share_a_place() -> None:
    found = pairs(street(), np.arange(COUNT) // 2, EVEN)
    assert found.place_of.tolist() == [n // 2 for n in range(COUNT)]
    assert found.two.shape == (COUNT // 2, COUNT // 2)
