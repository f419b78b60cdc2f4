from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.errors import StoreError
from district.store import hourly_flows
from tests.store.conftest import intervals

LONDON = ZoneInfo("Europe/London")


def days(first: str, count: int) -> pd.DatetimeIndex:
    return pd.date_range(first, periods=count, freq="D", unit="us")


@pytest.mark.parametrize("zone", ["UTC", "Europe/London", "Asia/Kolkata", "Australia/Lord_Howe"])
def test_hours_are_means_of_the_minutes_within_them(kept: Callable[..., Path], zone: str) -> None:
    rng = np.random.default_rng(4)
    volumes = rng.uniform(0, 2, 4 * 24 * 6)
    place = kept(intervals("A", "2025-04-02 00:00", volumes, 15))
    wanted = days("2025-04-04", 3)

    found = hourly_flows(place, devices=["A"], days=wanted, zone=ZoneInfo(zone))

    minute = pd.date_range("2025-04-02", periods=len(volumes) * 15, freq="min", tz="UTC")
    local = minute.tz_convert(zone).tz_localize(None)
    by_hand = (
        pd.Series(np.repeat(volumes / 15, 15) * 1000 / 60)
        .groupby([local.normalize(), local.hour])
        .mean()
    )
    by_hand = by_hand[by_hand.index.get_level_values(0).isin(wanted)]
    assert len(found) == len(by_hand)
    assert found["flow_l_s"].to_numpy() == pytest.approx(by_hand.to_numpy())


def test_the_hour_that_comes_twice_is_one_row_and_the_skipped_one_none(
    kept: Callable[..., Path],
) -> None:
    flows = np.r_[np.full(24, 3.6), np.full(24, 7.2)]
    place = kept(intervals("A", "2025-10-25 01:00", flows))
    found = hourly_flows(place, devices=["A"], days=days("2025-10-26", 1), zone=LONDON)
    twice = found[found["hour"] == 1]
    assert len(found) == 24
    assert twice["flow_l_s"].to_list() == pytest.approx([1.5])  # 00:00 and 01:00 UTC

    spring = kept(intervals("A", "2025-03-30 00:00", np.full(23, 3.6)))
    found = hourly_flows(spring, devices=["A"], days=days("2025-03-30", 1), zone=LONDON)
    assert found["hour"].to_list() == [h for h in range(24) if h != 1]


def test_what_is_not_read_whole_or_not_wanted_has_no_row(kept: Callable[..., Path]) -> None:
    a = intervals("A", "2025-03-03", np.ones(96), 15)
    a.loc[5, "quality"] = "spike"
    place = kept(
        a, intervals("B", "2025-03-03", np.ones(24)), intervals("C", "2025-03-03", [9], 180)
    )
    found = hourly_flows(place, devices=["A", "C", "A"], days=days("2025-03-03", 9), zone=LONDON)
    assert found["device_id"].unique().tolist() == ["A"]
    assert found["hour"].to_list() == [0, *range(2, 24)]


def test_nothing_asked_is_nothing_found_and_damage_is_said(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-03-03", np.ones(24)))
    assert hourly_flows(place, devices=[], days=days("2025-03-03", 1), zone=LONDON).empty
    assert hourly_flows(place, devices=["A"], days=days("2025-03-03", 0), zone=LONDON).empty
    for part in place.rglob("*.parquet"):
        part.write_bytes(b"not a table")
    with pytest.raises(StoreError):
        hourly_flows(place, devices=["A"], days=days("2025-03-03", 1), zone=LONDON)
