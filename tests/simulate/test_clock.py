from datetime import date

import pandas as pd

from district.simulate.clock import clock_of, utc_of
from district.simulate.scenario import Scenario


def test_a_year_has_35040_quarter_hours_and_both_clock_changes():
    clock = clock_of(Scenario())
    assert len(clock.utc) == 35_040
    per_day = pd.Series(clock.day_number).value_counts().sort_index()
    days = pd.date_range("2025-01-01", periods=365)
    assert list(days[per_day.to_numpy() != 96].strftime("%m-%d")) == ["03-30", "10-26"]
    assert sorted(set(per_day)) == [92, 96, 100]


def test_every_night_window_has_two_hours():
    clock = clock_of(Scenario())
    nights = pd.Series(clock.night).groupby(clock.day_number).sum()
    assert set(nights) == {8}


def test_summer_time_is_an_hour_ahead():
    assert utc_of("2025-07-01T12:00") == pd.Timestamp("2025-07-01T11:00Z")


def test_terms_and_workdays():
    clock = clock_of(Scenario(first=date(2025, 4, 17), days=2))
    assert clock.workday[0]
    assert not clock.workday[-1]
    assert not clock.term.any()


def test_edges_close_the_last_interval():
    clock = clock_of(Scenario(first=date(2025, 12, 31), days=1))
    assert clock.edges()[-1] == pd.Timestamp("2026-01-01T00:00Z")
