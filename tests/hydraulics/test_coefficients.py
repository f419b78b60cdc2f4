"""Tests of `district.hydraulics.coefficients`."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.hydraulics.coefficients import (
    AGED_C,
    USUAL_C,
    roughness_groups,
    usual_roughness,
)
from district.schema.inputs import MATERIALS


def _pipes(material: list[str | None], year: list[float]) -> pd.DataFrame:
    return pd.DataFrame({"material": material, "installed_year": year})


def test_every_material_has_a_roughness() -> None:
    assert set(USUAL_C) | set(AGED_C) == set(MATERIALS)


@pytest.mark.parametrize(
    ("age", "low", "high"),
    [(0, 130, 130), (10, 107, 113), (20, 89, 100), (30, 75, 90), (40, 64, 83)],
)
def test_cast_iron_grows_rough_as_handbooks_have_it(age: int, low: int, high: int) -> None:
    """Ranges of C for cast iron by age, from memory, after Williams & Hazen's tables."""
    c = usual_roughness(_pipes(["cast_iron"], [1990 - age]), year=1990)
    assert low <= c[0] <= high


def test_roughness_by_material_where_age_changes_little_or_is_not_known() -> None:
    c = usual_roughness(
        _pipes(["pvc", None, "cast_iron", "cast_iron"], [1980, 1980, np.nan, 1900]), year=2025
    )
    assert c[:2].tolist() == [145.0, 110.0]
    assert c[2] == pytest.approx(70.0)  # between those at 40 and 60 years, a regression value
    assert c[3] == 60.0


def test_ages_are_counted_to_the_year_told_or_to_the_last_pipe_laid() -> None:
    pipes = _pipes(["cast_iron", "pvc"], [1970, 2000])
    assert usual_roughness(pipes)[0] == usual_roughness(pipes, year=2000)[0] == 83.0
    assert usual_roughness(pipes, year=2010)[0] == 75.0
    assert usual_roughness(_pipes(["cast_iron"], [np.nan])).shape == (1,)


def test_groups_are_material_and_age_where_the_material_ages() -> None:
    pipes = _pipes(
        ["pvc", "cast_iron", "cast_iron", "steel", "ductile_iron", None],
        [1950, 1939, 1940, np.nan, 2010, 1990],
    )
    assert roughness_groups(pipes).tolist() == [
        "PVC", "cast iron, laid before 1940", "cast iron, laid 1940 to 1969",
        "steel, age unknown", "ductile iron, laid since 2000", "unknown material",
    ]  # fmt: skip
