from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district import intake, store
from district.results import Reduced
from district.schema.stored import (
    ALARMS,
    DAILY_VOLUMES,
    HOURLY_PRESSURES,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import District, Night, Settings, read_settings
from tests.bad_inputs.small_folder import make_folder
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


def test_nothing_stored_gives_empty_tables(kept: Callable[..., Path]) -> None:
    found = store.reduce(kept(), settings=Settings(), boundaries=BOUNDARIES)
    for field in fields(Reduced):
        assert len(getattr(found, field.name)) == 0


def test_the_window_of_the_settings_is_used(kept: Callable[..., Path]) -> None:
    place = kept(intervals("MA", "2025-01-01", [3.6, 7.2, 10.8, 14.4] * 6))
    night = Night(start="01:00", end="02:00")  # type: ignore[arg-type]
    settings = Settings(district=District(timezone="Europe/Berlin"), night=night)
    found = store.reduce(place, settings=settings, boundaries=BOUNDARIES[:0])
    assert found.night_flows["flow_l_s"].tolist() == pytest.approx([1.0])


def test_a_warm_run_equals_a_cold_one(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    zones = folder / "readings/zones.csv"
    zones.write_text(zones.read_text().replace("MA,2025-03-11 05", "MA,tomorrow 05"))
    settings = read_settings(folder)
    inputs = intake.read_layers(folder, settings)
    cold = intake.read_readings(folder, settings, inputs)
    files = intake.reading_files(folder, settings)
    mark = store.fingerprint(folder, files, settings)
    place = store.place(folder)
    assert not store.is_current(place, mark)
    store.save(place, cold, mark)
    first = store.reduce(place, settings=settings, boundaries=BOUNDARIES)
    assert store.is_current(place, store.fingerprint(folder, files, settings))
    second = store.reduce(place, settings=settings, boundaries=BOUNDARIES)
    for field in fields(Reduced):
        pd.testing.assert_frame_equal(getattr(first, field.name), getattr(second, field.name))
    assert len(cold.findings) == 1
    assert store.load_findings(place) == cold.findings
    pd.testing.assert_frame_equal(store.load_quality(place), cold.quality, check_dtype=False)
    meters = folder / "meters.geojson"
    meters.write_text(meters.read_text().replace('"litres_per_pulse": 10', '"litres_per_pulse": 1'))
    assert not store.is_current(place, store.fingerprint(folder, files, settings))
