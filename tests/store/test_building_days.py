from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.errors import StoreError
from district.schema.columns import empty
from district.schema.inputs import WORKS
from district.store import building_days
from district.store.building_days import RECENT_DAYS
from tests.store.conftest import intervals

UTC = ZoneInfo("UTC")
METERS = pd.DataFrame({"device_id": ["A"], "building_id": ["Hall"]})


def test_both_tables_come_from_the_readings_kept(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-03-03", np.ones(48)))
    works = pd.DataFrame({"start": ["2025-03-03 06:00"], "end": ["2025-03-03 12:00"]})
    works = works.apply(pd.to_datetime, utc=True).assign(kind="empty", place_id="A", note="")
    still, periods = building_days(place, METERS, works, zone=UTC)
    assert still["hours_count"].to_list() == [24, 24]
    assert periods["inside_h"].to_list() == [6]


def test_damage_is_said(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-03-03", np.ones(24)))
    for part in place.rglob("*.parquet"):
        part.write_bytes(b"not a table")
    with pytest.raises(StoreError):
        building_days(place, METERS, empty(WORKS), zone=UTC)


def test_only_meters_that_never_stood_still_or_are_silent_are_looked_at_further_back(
    kept: Callable[..., Path],
) -> None:
    hours = np.arange(24 * 200)
    usual = np.where(hours % 24 < 6, 0.0, 1.0)
    series = {
        "usual": usual,
        "runs": np.where(hours < 2000, usual, 1.0),
        "silent": np.where(hours < 24 * 180, usual, 0.0),
        "ended": usual[: 24 * 50],
    }
    place = kept(*(intervals(name, "2025-03-03", v) for name, v in series.items()))
    meters = pd.DataFrame({"device_id": list(series), "building_id": ""})
    still, _ = building_days(place, meters, empty(WORKS), zone=UTC)
    assert still.groupby("device_id").size().to_dict() == {
        "runs": 200, "silent": 200, "usual": RECENT_DAYS - 1,
    }  # fmt: skip
    assert not still.duplicated(["device_id", "day"]).any()
    assert still[["device_id", "day"]].equals(
        still[["device_id", "day"]].sort_values(["device_id", "day"], ignore_index=True)
    )


def test_without_readings_there_is_nothing(kept: Callable[..., Path]) -> None:
    from_store = building_days(kept(), METERS, empty(WORKS), zone=UTC)
    assert [len(table) for table in from_store] == [0, 0]
