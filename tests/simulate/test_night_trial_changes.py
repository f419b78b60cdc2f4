"""Each change leaves the mark that its kind leaves on the hours of two zones."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.schema.event_tables import CAUSE_KINDS
from district.simulate.night_trial_changes import CHANGES, Changed, put_on
from district.simulate.night_trial_hours import ZoneHours, draw_zone_hours

DAYS = pd.date_range("2024-02-05", periods=90, freq="D")
POSITION = 60


def two(seed: int) -> tuple[ZoneHours, ZoneHours]:
    rng = np.random.default_rng(seed)
    return draw_zone_hours(rng, DAYS), draw_zone_hours(rng, DAYS)


def changed(change: str, seed: int = 1, *, nested: bool = False) -> Changed:
    rng = np.random.default_rng([3, seed])
    return put_on(rng, change, two(seed), DAYS, position=POSITION, nested=nested)


def test_changes_are_of_kinds_that_events_may_have() -> None:
    assert set(CHANGES.values()) == set(CAUSE_KINDS) - {"unknown"}


@pytest.mark.parametrize("change", list(CHANGES))
def test_nothing_changes_before_the_day_before(change: str) -> None:
    for seed in range(8):
        own = changed(change, seed, nested=change == "between_off")
        before = slice(0, POSITION - 1)
        assert not own.water_l_s[:, before].any()
        assert (own.read_share[:, before] == 1).all()
        assert not own.still[:, before].any()
        assert own.position - POSITION in range(4)


def test_a_leak_runs_at_all_hours_and_more_at_night_than_by_day() -> None:
    by_day, by_night = [], []
    for seed in range(20):
        own = changed("step", seed)
        leak = own.water_l_s[own.zone, POSITION + 1 :]
        assert (leak > 0).all()
        by_night.append(leak[:, 2:4].mean())
        by_day.append(leak[:, 7:20].mean())
        assert not own.water_l_s[1 - own.zone].any()
    assert np.mean(by_night) > np.mean(by_day)
    assert min(np.array(by_day) / by_night) > 0.6


def test_a_growing_leak_grows_to_the_end() -> None:
    own = changed("growth")
    by_day = own.water_l_s[own.zone, POSITION:].mean(axis=1)
    assert (np.diff(by_day) > 0).all()


def test_a_valve_moves_water_from_one_zone_to_the_other() -> None:
    own = changed("valve")
    assert own.water_l_s.sum(axis=0) == pytest.approx(0.0)
    assert (own.water_l_s[own.zone, POSITION + 1 :] > 0).all()


def test_a_meter_that_reads_more_does_so_by_a_share_and_moves_no_water() -> None:
    for change in ("reads_more", "between_off", "drift"):
        for seed in range(10):
            own = changed(change, seed, nested=True)
            assert not own.water_l_s.any()
            off = own.read_share[:, -1] - 1
            assert 0.05 <= np.abs(off).max() <= 0.3
    between = changed("between_off", 4, nested=True)
    assert (between.read_share[0] == 1).all()


def test_a_stuck_meter_stands_still_from_an_hour_of_the_day_on() -> None:
    own = changed("stuck")
    assert own.still[own.zone, POSITION:].all()
    begun = int(np.argmax(own.still[own.zone, POSITION - 1]))
    assert 7 <= begun < 22


def test_use_has_its_hours_and_days() -> None:
    for seed in range(12):
        for change in ("customer", "irrigation", "construction", "pool"):
            own = changed(change, seed)
            drawn = own.water_l_s[own.zone]
            assert drawn[own.position, 2:4].mean() > 0
        assert not changed("construction", seed).water_l_s[:, DAYS.day_of_week >= 5].any()
        assert not changed("irrigation", seed).water_l_s[:, :, 8:].any()
        pool = changed("pool", seed)
        assert (pool.water_l_s[pool.zone].sum(axis=1) > 0).sum() in range(3, 8)


def test_a_change_that_is_none_is_refused() -> None:
    with pytest.raises(KeyError):
        changed("flood")
