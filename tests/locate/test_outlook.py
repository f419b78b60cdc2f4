"""Tests of `district.locate.outlook`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from district.locate.outlook import UNKNOWN_SIZE_SHARE, Outlook, limits, walks

Make = Callable[..., Outlook]
NAN = float("nan")


def test_without_loggers_the_walk_is_that_of_the_prior_and_sure(outlook_of: Make) -> None:
    zone = outlook_of()
    walked, spread = walks(zone, 1.0)
    order = np.argsort(-zone.odds())
    by_order = np.cumsum(zone.length_m[order]) - zone.length_m[order] / 2
    # Two pipes whose odds differ by less than a millionth share their places.
    assert walked[order] == pytest.approx(by_order, abs=25.0)
    assert walked.sum() == pytest.approx(by_order.sum(), rel=1e-3)
    assert (spread == 0).all()


def test_loggers_shorten_the_walk_and_larger_leaks_do(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(5, 20, 33, 47))
    chance = zone.leaks_per_year / zone.leaks_per_year.sum()
    alone = chance @ walks(replace(zone, heard=None), 1.0)[0]
    by_size = [chance @ walks(zone, q)[0] for q in (0.2, 0.5, 1.0, 3.0)]
    assert by_size == sorted(by_size, reverse=True)
    assert by_size[-1] < 0.5 * alone


def test_a_model_less_known_gives_wider_limits_and_longer_walks(outlook_of: Make) -> None:
    sure = outlook_of(loggers=(5, 20, 33), spread_share=0.02)
    unsure = outlook_of(loggers=(5, 20, 33), spread_share=0.5)
    (short, narrow), (long, wide) = walks(sure, 3.0), walks(unsure, 3.0)
    assert short.mean() < long.mean()
    assert narrow.mean() < wide.mean()


def test_some_leaks_are_walked_to_as_among_all(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(5, 20, 33))
    some = np.array([3, 30, 40])
    assert walks(zone, 1.0, leaks=some)[0] == pytest.approx(walks(zone, 1.0)[0][some], rel=1e-5)


def test_a_zone_without_a_balance_knows_no_size(outlook_of: Make) -> None:
    zone = outlook_of(error_l_s=0.04)
    assert zone.size_error_l_s(2.0) == 0.04
    assert replace(zone, error_l_s=NAN).size_error_l_s(2.0) == 2.0 * UNKNOWN_SIZE_SHARE


def test_limits_lie_about_the_figure_and_below_the_most() -> None:
    low, high = limits(np.array([10.0, 90.0, 120.0]), np.array([0.0, 0.5, 0.5]), most_m=100.0)
    assert low == pytest.approx([10.0, 90 * np.exp(-0.98), 120 * np.exp(-0.98)])
    assert high == pytest.approx([10.0, 100.0, 120.0])
