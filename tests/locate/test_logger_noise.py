"""Tests of `district.locate.logger_noise`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import head_sensitivity, solve
from district.hydraulics.model import Reals
from district.locate.logger_noise import (
    LoggerNoise,
    logger_noise,
    metered_cells,
    noise_of_change,
    quiet_runs,
    usual_hours,
)
from district.locate.pressure_hours import by_block
from district.locate.spots import Heard
from district.schema import empty
from district.schema.event_tables import EVENTS

Make = Callable[..., Heard]
DAYS = pd.date_range("2025-03-01", periods=20, freq="D")


def event(**dates: str) -> pd.DataFrame:
    row = {name: pd.Timestamp(day) for name, day in dates.items()}
    return pd.DataFrame([row]).reindex(columns=list(EVENTS.names()))


def told(heard: Heard, *, quiet: bool = True) -> tuple[LoggerNoise, Reals, Reals]:
    """The noise, the sensitivity of the loggers, and the covariance of a change."""
    known = usual_hours(heard.demands, heard.pressures, heard.calibrated.drawn.logger_id)
    assert known is not None
    hours, days = known
    drawn = heard.calibrated.drawn
    sensitivity = np.array(
        [
            head_sensitivity(drawn.model, solve(drawn.model, row), drawn.watch)
            for row in by_block(hours.drawn_l_s, hours)
        ]
    )
    use = by_block(hours.use_l_s, hours) @ heard.demands.use
    runs = quiet_runs(days, empty(EVENTS)) if quiet else []
    noise = logger_noise(drawn, heard.demands, hours, runs, sensitivity, use)
    have = np.arange(len(drawn.logger_id))
    change = noise_of_change(
        noise, drawn, heard.demands, sensitivity, use, have=have, nights_count=14
    )
    return noise, sensitivity, change


def test_changes_on_record_and_missing_days_part_the_runs() -> None:
    assert quiet_runs(DAYS, empty(EVENTS)) == [slice(0, 20)]
    begun = event(start_low="2025-03-09", start_high="2025-03-10")
    assert quiet_runs(DAYS, begun) == [slice(0, 8), slice(10, 20)]
    assert quiet_runs(DAYS, event(end="2025-03-02")) == [slice(2, 20)]
    assert quiet_runs(DAYS.delete([7]), empty(EVENTS)) == [slice(0, 7), slice(7, 19)]
    assert quiet_runs(DAYS[:2], empty(EVENTS)) == []


def test_louder_loggers_are_told(heard_of: Make) -> None:
    quiet, loud = told(heard_of(noise_m=0.02)), told(heard_of(noise_m=0.4))
    assert quiet[0].days_count == loud[0].days_count == 28
    assert (loud[0].own > 5 * quiet[0].own).all()
    assert np.diag(loud[2]).sum() > 3 * np.diag(quiet[2]).sum()


def test_the_noise_of_a_change_is_that_of_the_means(heard_of: Make) -> None:
    """White noise of 0.6 m an hour: a block of six hours has 0.245 m a day; of 14 days against
    28 the variance is that over 14 and over 28 (computed by hand)."""
    covariance = told(heard_of(noise_m=0.6))[2]
    by_hand = 0.6**2 / 6 * (1 / 14 + 1 / 28)
    assert np.sqrt(np.diag(covariance).mean()) == pytest.approx(np.sqrt(by_hand), rel=0.25)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_without_quiet_days_the_assumptions_stand(heard_of: Make) -> None:
    noise, _, covariance = told(heard_of(), quiet=False)
    assert noise.days_count == 0
    assert noise.log_spread == 0.5
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_a_logger_hardly_read_counts_as_the_others(heard_of: Make) -> None:
    heard = heard_of(noise_m=0.3)
    of_last = heard.pressures["device_id"] == "L41"
    unread = heard.pressures[~of_last | (heard.pressures["day"] < "2025-03-08")]
    noise = told(replace(heard, pressures=unread))[0]
    assert noise.own[2] == pytest.approx(noise.own[:2].mean())
    assert noise.days_count == 28


def test_a_place_is_taken_to_be_as_good_as_the_loggers_there(heard_of: Make) -> None:
    heard = heard_of()
    noise, sensitivity, covariance = told(heard)
    known = usual_hours(heard.demands, heard.pressures, heard.calibrated.drawn.logger_id)
    assert known is not None
    use = by_block(known[0].use_l_s, known[0]) @ heard.demands.use
    even = replace(noise, own=np.full(3, noise.own.mean()))
    drawn, asked = heard.calibrated.drawn, {"nights_count": 14}
    of_places = noise_of_change(
        noise, drawn, heard.demands, sensitivity, use, have=np.full(3, -1), **asked
    )
    of_loggers = noise_of_change(
        even, drawn, heard.demands, sensitivity, use, have=np.arange(3), **asked
    )
    assert of_places == pytest.approx(of_loggers)
    assert of_places.shape == covariance.shape


def test_no_hours_without_flows_or_pressures(heard_of: Make) -> None:
    heard = heard_of(days=6)
    names = heard.calibrated.drawn.logger_id
    assert usual_hours(heard.demands, heard.pressures.iloc[:0], names) is None
    flat = replace(heard.demands, rest_l_s=np.full_like(heard.demands.rest_l_s, 3.0))
    assert usual_hours(flat, heard.pressures, names) is None
    assert not metered_cells(flat).any()
    assert metered_cells(heard.demands).tolist() == [True]
    nights = heard.demands.hours["hour"].to_numpy() < 5
    some = replace(
        heard.demands,
        rest_l_s=np.where(nights[:, None], heard.demands.rest_l_s, np.nan),
    )
    assert usual_hours(some, heard.pressures, names) is None
    unread = replace(heard.demands, rest_l_s=np.full_like(heard.demands.rest_l_s, np.nan))
    assert usual_hours(unread, heard.pressures, names) is None
