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
