"""Expected leaks before the district's own breaks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.locate.rates import age_span_years, published_mains, published_services


def one_pipe(**changes: object) -> pd.DataFrame:
    pipe = {"material": "cast_iron", "length_m": 100.0, "installed_year": 1970.0}
    return pd.DataFrame([{**pipe, "diameter_mm": 150.0, **changes}])


def test_a_pipe_of_mean_age_and_bore_breaks_at_the_published_rate() -> None:
    # 34.8 per 100 miles a year is 0.2162 per km a year (hand calculation); 100 m of it.
    assert published_mains(one_pipe(), year=2020)[0] == pytest.approx(0.02162, rel=1e-3)


@pytest.mark.parametrize(
    ("column", "values", "sign"),
    [
        ("installed_year", [2019.0, 2000.0, 1960.0, 1930.0], 1),
        ("length_m", [1.0, 10.0, 100.0], 1),
        ("diameter_mm", [50.0, 100.0, 300.0], -1),
    ],
)
def test_more_age_and_length_mean_more_leaks_and_more_bore_fewer(
    column: str, values: list[float], sign: int
) -> None:
    leaks = [published_mains(one_pipe(**{column: v}), year=2020)[0] for v in values]
    assert (sign * np.diff(leaks) > 0).all()


def test_a_missing_year_changes_nothing() -> None:
    assert age_span_years(pd.Series([np.nan]), year=2020)[0] == 0


def test_a_year_in_the_future_is_a_new_pipe() -> None:
    assert age_span_years(pd.Series([2030.0]), year=2020) == age_span_years(
        pd.Series([2020.0]), year=2020
    )


def test_services_leak_by_count_and_private_length() -> None:
    # 3 per 1000 connections a year, and 2 per 1000 for each 15 m of private pipe.
    leaks = published_services(np.array([1000.0, 1000.0]), np.array([0.0, 15000.0]))
    assert leaks == pytest.approx([3.0, 5.0])
