from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.schema.stored import TANK_CHANGES
from district.store.database import opened
from district.store.keep import load_quality
from district.store.tanks import tank_changes
from tests.store.conftest import samples

KINDS = {"T": "tank_level", "P": "pressure"}
QUARTERS = pd.date_range("2025-03-29", periods=96 * 4, freq="15min")


def changes(place: Path, zone: str = "UTC") -> pd.DataFrame:
    with opened(place) as connection:
        return tank_changes(
            connection, load_quality(place), start=time(2), end=time(4), zone=ZoneInfo(zone)
        )


def row(found: pd.DataFrame, period: str, date: str) -> pd.Series:
    (one,) = (
        r for _, r in found.iterrows() if (r["period"], str(r["date"].date())) == (period, date)
    )
    return one


@pytest.mark.parametrize("zone", ["UTC", "Europe/London", "Australia/Lord_Howe"])
def test_levels_agree_with_pandas(kept: Callable[..., Path], zone: str) -> None:
    level = np.random.default_rng(3).uniform(1, 4, len(QUARTERS))
    # Stamps off the quarter, so that every end lies between two readings.
    frame = samples("T", QUARTERS + pd.Timedelta(minutes=7), level)
    found = changes(kept(frame, samples("P", QUARTERS, 40.0 + level), kinds=KINDS), zone)
    assert tuple(found.columns) == TANK_CHANGES.names()
    assert set(found["device_id"]) == {"T"}
    times = frame["time_utc"].astype("int64").to_numpy()
    for one in found[found["coverage_share"] == 1].itertuples():
        hours = (2, 4) if one.period == "night" else (0, 24)
        ends = [
            (one.date + pd.Timedelta(hours=h)).tz_localize(zone, nonexistent="shift_forward")
            if h < 24
            else (one.date + pd.Timedelta(days=1)).tz_localize(zone)
            for h in hours
        ]
        at = [end.timestamp() * 1e6 for end in ends]
        by_hand = np.interp(at, times, level)
        np.testing.assert_allclose([one.start_m, one.end_m], by_hand)
        assert one.window_h == (ends[1] - ends[0]) / pd.Timedelta(hours=1)


def test_no_level_across_a_longer_gap(kept: Callable[..., Path]) -> None:
    frame = samples("T", QUARTERS, np.linspace(1, 2, len(QUARTERS)))
    gap = frame["time_utc"].between("2025-03-30 01:50Z", "2025-03-30 02:50Z")
    found = changes(kept(frame[~gap], kinds=KINDS))
    hit = row(found, "night", "2025-03-30")
    assert np.isnan(hit["start_m"])
    assert hit["coverage_share"] == 0.5
    assert row(found, "day", "2025-03-30")["coverage_share"] == 1.0
    assert row(found, "night", "2025-03-31")["coverage_share"] == 1.0


def test_flawed_levels_are_not_used(kept: Callable[..., Path]) -> None:
    frame = samples("T", QUARTERS, 2.0)
    frame.loc[frame["time_utc"] == "2025-03-30 02:00Z", ["value", "quality"]] = [9.0, "spike"]
    hit = row(changes(kept(frame, kinds=KINDS)), "night", "2025-03-30")
    assert (hit["start_m"], hit["end_m"]) == (2.0, 2.0)


def test_no_tank_no_rows(kept: Callable[..., Path]) -> None:
    place = kept(samples("P", QUARTERS, 40.0), kinds=KINDS)
    assert changes(place).empty
    assert tuple(changes(place).columns) == TANK_CHANGES.names()
    assert changes(kept(kinds=KINDS)).empty
