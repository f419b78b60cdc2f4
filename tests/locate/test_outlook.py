"""Tests of `district.locate.outlook`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from district.locate.outlook import UNKNOWN_SIZE_SHARE, Outlook, limits, over_leaks, walks

Make = Callable[..., Outlook]
NAN = float("nan")


def test_without_loggers_the_walk_is_that_of_the_prior_and_sure(outlook_of: Make) -> None:
    zone = outlook_of()
    walked, drawn = walks(zone, 1.0)
    order = np.argsort(-zone.odds())
    by_order = np.cumsum(zone.length_m[order]) - zone.length_m[order] / 2
    # Two pipes whose odds differ by less than a millionth share their places.
    assert walked[order] == pytest.approx(by_order, abs=25.0)
    assert walked.sum() == pytest.approx(by_order.sum(), rel=1e-3)
    assert (drawn == walked).all()


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
    assert np.log(narrow).std(axis=0).mean() < np.log(wide).std(axis=0).mean()


def test_some_leaks_are_walked_to_as_among_all(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(5, 20, 33))
    some = np.array([3, 30, 40])
    assert walks(zone, 1.0, leaks=some)[0] == pytest.approx(walks(zone, 1.0)[0][some], rel=1e-5)


def test_a_zone_without_a_balance_knows_no_size(outlook_of: Make) -> None:
    zone = outlook_of(error_l_s=0.04)
    assert zone.size_error_l_s(2.0) == 0.04
    assert replace(zone, error_l_s=NAN).size_error_l_s(2.0) == 2.0 * UNKNOWN_SIZE_SHARE


def test_limits_lie_about_the_figure_and_within_the_mains(outlook_of: Make) -> None:
    zone = replace(outlook_of(), length_m=np.array([60.0, 40.0]))
    low, high = limits(zone, np.array([10.0, 90.0, 120.0]), np.array([0.0, 0.5, 0.5]))
    assert low == pytest.approx([10.0, 90 * np.exp(-0.98), 120 * np.exp(-0.98)])
    assert high == pytest.approx([10.0, 100.0, 120.0])


def test_the_mean_over_leaks_is_that_of_all_of_them(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(5, 20, 33))
    walked, drawn = walks(zone, 1.0)
    chance = zone.leaks_per_year / zone.leaks_per_year.sum()
    leaks, weight = np.arange(len(walked)), zone.leaks_per_year
    middle, low, high = over_leaks(zone, leaks, weight, walked[leaks], drawn[:, leaks])
    assert middle == pytest.approx(chance @ walked)
    assert low < middle < high
    sure = replace(zone, drawn_per_year=np.repeat(zone.leaks_per_year[:, None], 5, axis=1))
    narrower = over_leaks(sure, leaks, weight, walked[leaks], drawn[:, leaks])
    assert low < narrower[1]
    assert narrower[2] < high
