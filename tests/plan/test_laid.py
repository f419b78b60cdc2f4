"""The year of laying, and what stands in for it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.plan.laid import laid_years


def table(**years: list[float]) -> pd.DataFrame:
    rows = [(material, year) for material, of in years.items() for year in of]
    return pd.DataFrame(rows, columns=["material", "installed_year"])


def test_a_known_year_is_its_middle() -> None:
    laid, said = laid_years(table(pvc=[1990.0, 2031.0]), first_year=2000.0, last_year=2020.0)
    assert laid.tolist() == [1990.5, 2031.5]
    assert said == []


def test_the_middle_pipe_of_the_material_as_far_as_the_record_reaches() -> None:
    known = [1960.0, 1970.0, 1980.0, 1990.0, 1995.0]
    laid, said = laid_years(
        table(pvc=[*known, 2021.0, 2022.0, 2023.0, np.nan]), first_year=2000.0, last_year=2020.0
    )
    assert laid[-1] == 1980.5
    assert said == [
        "1 pipe of no known year counted as laid with the middle pipe of the same material, and "
        "before the record."
    ]


def test_a_pipe_watched_since_the_record_began_was_laid_by_then() -> None:
    # The middle pipe is of 2012: watched from 2000 on, it cannot have been 12 years unlaid.
    known = [2005.0, 2011.0, 2012.0, 2013.0, 2014.0]
    laid, _ = laid_years(table(pvc=[*known, np.nan]), first_year=2000.0, last_year=2020.0)
    assert laid[-1] == 2000.0


def test_fifty_years_old_where_the_material_tells_nothing() -> None:
    laid, said = laid_years(table(steel=[1990.0, np.nan]), first_year=2000.0, last_year=2020.0)
    assert laid[-1] == pytest.approx(1960.0)
    assert "50 years old in the middle of the record" in said[0]
