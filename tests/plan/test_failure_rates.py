"""What the rates say they rest on: a record, one break, none, or no record at all."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.plan.failure_rates import pipe_rates
from district.plan.history import pipe_history
from district.settings import Settings
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of

PIPES = pipes_of({"pipe_id": "A"}, {"pipe_id": "B", "installed_year": float("nan")})


def test_a_record_is_told_with_its_days_and_what_did_not_count() -> None:
    history = history_of(
        PIPES, breaks_of(("2010-01-01", "A"), ("1990-01-01", "A"), ("2011-01-01", "X"))
    )
    basis = pipe_rates(history, settings=settings_of(), year=2020).basis
    said = " ".join(basis.assumptions)
    assert "runs from 2000-01-01 to 2019-12-31, as the settings tell" in said
    assert "at 50 years of age and 150 mm of bore and to fall with bore to the power 0.3" in said
    assert "1 break of mains over 40.0\u00a0km·years count" in said
    limits = " ".join(basis.limits)
    assert "2 breaks on record not counted: 1 on no pipe" in limits
    assert "The year of 1 pipe is not known" in limits
    assert "One break is on record: the rates are hardly more" in limits
    # The settings have the dates: nobody is asked for them.
    assert "Set record_dates" not in limits
    # Two forms of growth, and one break: neither is spoken for.
    assert "which the breaks hardly tell from growth by a power of age; by how much" in said


def test_pipes_taken_out_are_missed_where_the_layer_has_none() -> None:
    rows = breaks_of(("2010-01-01", "A"))
    gone = {"pipe_id": "G", "status": "abandoned", "removed_year": 2015.0}
    for pipes, missed in (
        (PIPES, True),
        (pipes_of({"pipe_id": "A"}, gone), False),
        # Taken out before the record began, it was never watched.
        (pipes_of({"pipe_id": "A"}, {**gone, "removed_year": 1990.0}), True),
    ):
        limits = pipe_rates(history_of(pipes, rows), settings=settings_of(), year=2020).basis.limits
        assert any("Pipes taken out do not count" in line for line in limits) is missed


def test_no_record_no_breaks_and_the_growth_set_are_told_apart() -> None:
    none = pipe_history(PIPES, breaks_of(), settings=Settings(), year=2020)
    assert (
        "There is no record of breaks"
        in pipe_rates(none, settings=Settings(), year=2020).basis.limits[0]
    )
    quiet = pipe_rates(
        history_of(PIPES, breaks_of()), settings=settings_of(growth="none"), year=2020
    )
    assert "Not one break" in quiet.basis.limits[0]
    assert any("not to grow with age, as the settings say" in s for s in quiet.basis.assumptions)


@pytest.mark.parametrize("growth", ["exponential", "power", "none"])
def test_without_a_record_the_published_rates_stand_alone(growth: str) -> None:
    said = Settings(renew=settings_of(growth=growth, record_dates=()).renew)
    years = [1890, 1930, 1949, 1970, 1998]
    pipes = pipes_of(*({"pipe_id": f"{y}", "installed_year": float(y)} for y in years))
    history = pipe_history(pipes, breaks_of(), settings=said, year=2000)
    table = pipe_rates(history, settings=said, year=2000).table
    assert set(table["rests_on"]) == {"published"}
    rate = table["breaks_per_100_km_year"].to_numpy()
    assert rate == pytest.approx(table["published_per_100_km_year"].to_numpy())
    # 50 to 51 years old in 2000 but for the half year in which it was laid, 150 mm, cast iron: 21.6
    # per 100 km a year (Folkman 2018, converted; from memory). Older pipes break no less.
    one = table.set_index("pipe_id").loc["1949"]
    assert one["breaks_per_100_km_year"] == pytest.approx(21.6, rel=0.025)
    assert (np.diff(rate) <= 1e-9).all()
    assert one["breaks_per_100_km_year_low"] < 21.6 / 3
    assert one["breaks_per_100_km_year_high"] > 21.6 * 3


def test_inputs_stay_as_they_are() -> None:
    history = history_of(PIPES, breaks_of(("2010-01-01", "A")))
    before = history.table.copy(deep=True)
    pipe_rates(history, settings=settings_of(), year=2020)
    pd.testing.assert_frame_equal(before, history.table)
