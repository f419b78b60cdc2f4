from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.settings import EmptyHours
from district.store.empty_windows import empty_windows, rule_sets

UTC = ZoneInfo("UTC")
EVENINGS = EmptyHours(
    places=("Hall", "M3"), weekdays=("mon", "tue", "wed", "thu", "fri"), start=time(18), end=time(7)
)
WEEKEND = EmptyHours(places=("Hall",), weekdays=("sat", "sun"), start=time(0), end=time(0))


def test_each_meter_goes_by_the_rules_that_name_it_or_its_building() -> None:
    meters = pd.DataFrame(
        {"device_id": ["M1", "M2", "M3"], "building_id": ["Hall", "Shed", "Shed"]}
    )
    sets, rules_of = rule_sets(meters, [EVENINGS, WEEKEND])
    assert sets == ((0,), (0, 1))
    assert rules_of.tolist() == [1, -1, 0]
    assert rule_sets(meters, [])[0] == ()


def test_times_that_touch_are_one() -> None:
    # Friday 2025-03-07 18:00 to Monday midnight is one time of 54 h; other evenings are 13 h.
    days = pd.date_range("2025-03-06", "2025-03-11", unit="us")
    found = empty_windows(((0, 1),), [EVENINGS, WEEKEND], days, UTC)
    hours = ((found["end_us"] - found["start_us"]) / 3.6e9).to_numpy()
    assert set(hours) == {13.0, 54.0}
    starts = pd.to_datetime(found["start_us"], unit="us")
    assert starts[hours == 54.0].dt.strftime("%a %H:%M").unique().tolist() == ["Fri 18:00"]
    assert (np.diff(found["start_us"]) > 0).all()
