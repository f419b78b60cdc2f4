"""Published rates by material and bore, as the search and the plan of renewal begin from them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.break_rates import (
    BORE_REACH,
    bore_log,
    mains_rate_per_km_year,
    of_the_record,
    watched_years,
)


def test_unknown_and_unlisted_materials_take_the_rate_of_all_pipes() -> None:
    rates = mains_rate_per_km_year(pd.Series(["unknown", "lead", None]))
    assert rates == pytest.approx(14 / 160.9344)


def test_polyethylene_is_taken_as_pvc() -> None:
    pe, pvc = mains_rate_per_km_year(pd.Series(["polyethylene", "pvc"]))
    assert pe == pvc


def test_bores_beyond_the_reach_count_as_its_ends_and_unknown_ones_as_usual() -> None:
    logs = bore_log(pd.Series([150.0, 10.0, 3000.0, np.nan]))
    assert logs == pytest.approx([0.0, np.log(BORE_REACH[0] / 150), np.log(BORE_REACH[1] / 150), 0])


def test_a_record_watched_evenly_gives_back_its_length() -> None:
    # n breaks spread evenly over 20 years: the mean span is 20 (n - 1) / (n + 1).
    random = np.random.default_rng(1)
    for count in (2, 5, 40):
        years = [
            watched_years(random.uniform(2000, 2020, count), year=2020)[0] for _ in range(3000)
        ]
        assert np.mean(years) == pytest.approx(20, rel=0.03)


def test_no_breaks_means_no_history_and_one_reaches_to_now() -> None:
    assert watched_years(np.array([]), year=2024)[0] == 0
    assert watched_years(np.array([2015.0]), year=2024)[0] == 10


def test_a_mistyped_date_does_not_stretch_the_record() -> None:
    # Years mistyped by a digit, as 1900 for 2000 or 2201 for 2021.
    random = np.random.default_rng(2)
    for count in (12, 300):
        when = random.uniform(2005, 2025, count)
        alone = watched_years(when, year=2025)
        # Few breaks cannot tell of mistakes at both ends.
        for odd in ([1900.0], [2201.0], [1900.0, 2201.0])[: 2 + (count > 12)]:
            assert watched_years(np.r_[odd, when], year=2025) == alone
            assert of_the_record(np.r_[odd, when]).tolist() == [False] * len(odd) + [True] * count


def test_a_record_that_was_kept_evenly_or_grows_is_of_one_piece() -> None:
    random = np.random.default_rng(3)
    for count in (1, 2, 5, 10, 40, 400):
        for _ in range(200):
            assert of_the_record(2000 + 20 * random.uniform(size=count)).all()
    # Breaks that grow by a twentieth a year over sixty years.
    share = random.uniform(size=300)
    assert of_the_record(1965 + np.log1p(share * np.expm1(3.0)) / 0.05).all()


def test_many_breaks_before_a_gap_are_no_mistake() -> None:
    random = np.random.default_rng(4)
    when = np.r_[random.uniform(1975, 1985, 40), random.uniform(2005, 2025, 200)]
    assert of_the_record(when).all()
