"""Failure rates of a whole register against published ones, and the arithmetic of exposure.

Folkman S. (2018) Water Main Break Rates in the USA and Canada, Utah State University: rates by
material from memory.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.break_rates import BREAKS_PER_100_MILES_YEAR, KM_100_MILES
from district.plan import pipe_history, pipe_rates
from district.renew_settings import Renew
from district.settings import Settings

MATERIALS = ["cast_iron", "ductile_iron", "pvc", "asbestos_cement", "steel"]
YEARS = 10
PIPES_EACH = 60
MILES_EACH = 1000.0


def register() -> tuple[pd.DataFrame, pd.DataFrame]:
    """A thousand miles of each material, and the breaks of ten years at the rates of 2018."""
    length_m = MILES_EACH * KM_100_MILES * 10 / PIPES_EACH
    pipes = pd.DataFrame(
        {
            "pipe_id": [f"{m} {n:02d}" for m in MATERIALS for n in range(PIPES_EACH)],
            "material": np.repeat(MATERIALS, PIPES_EACH),
            "diameter_mm": 150.0,
            "installed_year": 1960.0,
            "length_m": length_m,
            "status": "in_use",
            "removed_year": np.nan,
            "ground": None,
            "street": None,
        }
    )
    rows = []
    for material in MATERIALS:
        count = round(BREAKS_PER_100_MILES_YEAR[material] * MILES_EACH / 100 * YEARS)
        days = pd.date_range("2005-01-01", "2014-12-31", periods=count).normalize()
        rows += [(day, f"{material} {n % PIPES_EACH:02d}") for n, day in enumerate(days)]
    breaks = pd.DataFrame(rows, columns=["date", "pipe_id"]).assign(kind="main")
    return pipes, breaks.drop_duplicates(["date", "pipe_id"])


def test_the_published_rates_come_back_from_their_own_breaks() -> None:
    pipes, breaks = register()
    settings = Settings(
        renew=Renew(record_dates=(date(2005, 1, 1), date(2014, 12, 31)), growth="none")
    )
    history = pipe_history(pipes, breaks, settings=settings, year=2015)
    # Exposure by hand: 5,000 miles for ten years.
    assert history.table["exposure_km_year"].sum() == pytest.approx(
        5 * MILES_EACH * 1.609344 * YEARS, rel=1e-3
    )
    table = pipe_rates(history, settings=settings, year=2015).table
    by_material = table.groupby("material")["breaks_per_100_km_year"].mean() * KM_100_MILES / 100
    for material in MATERIALS:
        seen = breaks["pipe_id"].str.startswith(material).sum() / YEARS / MILES_EACH * 100
        assert by_material[material] == pytest.approx(seen, rel=0.02)
        assert by_material[material] == pytest.approx(BREAKS_PER_100_MILES_YEAR[material], rel=0.03)
