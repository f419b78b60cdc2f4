from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district import store
from district.errors import StoreError
from district.results import Reduced
from district.schema.stored import (
    ALARMS,
    DAILY_VOLUMES,
    HOURLY_PRESSURES,
    LOWEST_HOURS,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import District, Night, Settings
from tests.store.conftest import intervals, samples

BOUNDARIES = pd.DataFrame(
    {
        "meter_id": ["MA", "MB"],
        "upstream_cell_id": ["", "A"],
        "downstream_cell_id": ["A", "B"],
    }
)


def test_every_table_is_as_declared_and_in_order(kept: Callable[..., Path]) -> None:
    rng = np.random.default_rng(1)
    place = kept(
        intervals("MB", "2025-01-01", rng.uniform(0, 1, 72)),
        intervals("MA", "2025-01-01", rng.uniform(0, 1, 72)),
        samples("P", pd.date_range("2025-01-01", periods=72, freq="h"), rng.uniform(30, 50, 72)),
        samples("W", ["2025-01-01"], [1]),
        kinds={"P": "pressure", "W": "wet_floor"},
    )
    found = store.reduce(place, settings=Settings(), boundaries=BOUNDARIES)
    for table in (NIGHT_FLOWS, NIGHT_MINIMA, DAILY_VOLUMES, HOURLY_PRESSURES, ALARMS):
        frame = getattr(found, table.name)
        assert len(frame)
        assert tuple(frame.columns) == table.names()
        key = list(table.key) or ["device_id", "start_utc"]
        assert frame[key].equals(frame[key].sort_values(key, ignore_index=True))


def test_lowest_hours_only_where_the_window_rolls(kept: Callable[..., Path]) -> None:
    place = kept(
        intervals("MA", "2025-01-01", [3.6] * 48), intervals("U", "2025-01-01", [1.8] * 48)
    )
    users = pd.DataFrame({"device_id": ["U"], "cell_id": ["A"]})
    only = BOUNDARIES[:1]
    fixed = store.reduce(place, settings=Settings(), boundaries=only, users=users)
    assert len(fixed.lowest_hours) == 0
    rolling = Settings(night=Night(window="rolling"))
    found = store.reduce(place, settings=rolling, boundaries=only, users=users).lowest_hours
    assert tuple(found.columns) == LOWEST_HOURS.names()
    assert found["device_id"].tolist() == ["MA", "MA", "U", "U"]
    assert found["flow_l_s"].tolist() == pytest.approx([1.0, 1.0, 0.5, 0.5])


def test_nothing_stored_gives_empty_tables(kept: Callable[..., Path]) -> None:
    found = store.reduce(kept(), settings=Settings(), boundaries=BOUNDARIES)
    rolling = Settings(night=Night(window="rolling"))
    rolled = store.reduce(kept(), settings=rolling, boundaries=BOUNDARIES)
    for field in fields(Reduced):
        assert len(getattr(found, field.name)) == 0
        assert len(getattr(rolled, field.name)) == 0


def test_the_window_of_the_settings_is_used(kept: Callable[..., Path]) -> None:
    place = kept(intervals("MA", "2025-01-01", [3.6, 7.2, 10.8, 14.4] * 6))
    night = Night(start="01:00", end="02:00")  # type: ignore[arg-type]
    settings = Settings(district=District(timezone="Europe/Berlin"), night=night)
    found = store.reduce(place, settings=settings, boundaries=BOUNDARIES[:0])
    assert found.night_flows["flow_l_s"].tolist() == pytest.approx([1.0])


def test_reducing_again_gives_the_same(kept: Callable[..., Path]) -> None:
    rng = np.random.default_rng(2)
    place = kept(intervals("MA", "2025-01-01", rng.uniform(0, 1, 240), minutes=15))
    first, second = (
        store.reduce(place, settings=Settings(), boundaries=BOUNDARIES) for _ in range(2)
    )
    for field in fields(Reduced):
        pd.testing.assert_frame_equal(getattr(first, field.name), getattr(second, field.name))


def test_without_a_store_nothing_is_reduced(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"are damaged\. Delete this folder"):
        store.reduce(tmp_path, settings=Settings(), boundaries=BOUNDARIES)
