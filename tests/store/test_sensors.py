from __future__ import annotations

from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.store.database import opened
from district.store.keep import load_quality
from district.store.sensors import acoustic_nights, alarms, hourly_pressures
from tests.store.conftest import samples

KINDS = {"P": "pressure", "W": "wet_floor", "X": "acoustic"}


def pressures(place: Path, zone: str) -> pd.DataFrame:
    with opened(place) as connection:
        return hourly_pressures(connection, load_quality(place), zone=ZoneInfo(zone))


def spells(place: Path) -> pd.DataFrame:
    with opened(place) as connection:
        return alarms(connection, load_quality(place))


@pytest.mark.parametrize("zone", ["Europe/London", "Australia/Lord_Howe", "Asia/Kathmandu"])
def test_hours_agree_with_pandas(kept: Callable[..., Path], zone: str) -> None:
    times = pd.date_range("2025-04-04", periods=96 * 4, freq="15min")
    times = times.append(pd.date_range("2025-10-24", periods=96 * 4, freq="15min"))
    frame = samples("P", times, np.random.default_rng(1).uniform(20, 60, len(times)))
    frame.loc[::50, "quality"] = "spike"
    found = pressures(kept(frame, samples("X", times, [9] * len(times)), kinds=KINDS), zone)
    local = frame["time_utc"].dt.tz_convert(zone)
    sound = frame["quality"] == "ok"
    by_hand = frame[sound].groupby([local[sound].dt.date, local[sound].dt.hour])["value"].mean()
    assert len(found) == len(by_hand)
    np.testing.assert_allclose(found["pressure_m"], by_hand)


def test_spells_of_wet_readings(kept: Callable[..., Path]) -> None:
    times = ["2025-01-01 00:00", "2025-01-01 06:00", "2025-01-01 12:00", "2025-01-02 06:00"]
    times += ["2025-01-03 06:00", "2025-01-04 07:00", "2025-01-05 00:00"]
    frame = samples("W", times, [0, 1, 0, 1, 1, 1, 0])
    found = spells(kept(frame, samples("P", times, [40] * 7), kinds=KINDS))
    assert found["device_id"].tolist() == ["W", "W"]
    assert found["start_utc"].tolist() == [
        pd.Timestamp("2025-01-01 06:00", tz="UTC"),
        pd.Timestamp("2025-01-04 07:00", tz="UTC"),
    ]
    assert found["end_utc"].tolist() == [
        pd.Timestamp("2025-01-03 06:00", tz="UTC"),
        pd.Timestamp("2025-01-04 07:00", tz="UTC"),
    ]
    assert found["readings_count"].tolist() == [3, 1]
    # It dried up once within the first spell; each wet reading stands to the next, a day at most.
    assert found["onsets_count"].tolist() == [2, 1]
    assert found["alarm_h"].tolist() == [6 + 24 + 24, 17]


@pytest.mark.parametrize("kind", ["wet_floor", "leak_cable", "chamber_float"])
def test_every_kind_that_reads_0_or_1_gives_alarm(kept: Callable[..., Path], kind: str) -> None:
    frame = samples("W", pd.date_range("2025-01-01", periods=8, freq="h"), [0, 1, 0, 1, 0, 1, 1, 0])
    (row,) = spells(kept(frame, kinds={"W": kind})).itertuples()
    assert (row.readings_count, row.onsets_count, row.alarm_h) == (4, 3, 4.0)


def test_a_spell_wet_to_the_last_reading_stands_to_that(kept: Callable[..., Path]) -> None:
    frame = samples("W", ["2025-01-01 00:00", "2025-01-01 06:00", "2025-01-04 00:00"], [1, 1, 1])
    found = spells(kept(frame, kinds=KINDS))
    # Three days without a reading: nobody knows whether it stayed wet.
    assert found["onsets_count"].tolist() == [1, 1]
    assert found["alarm_h"].tolist() == [6 + 24, 0]


def test_flawed_readings_raise_no_alarm(kept: Callable[..., Path]) -> None:
    frame = samples("W", ["2025-01-01"], [1]).assign(quality="spike")
    assert len(spells(kept(frame, kinds=KINDS))) == 0


def noise(place: Path, zone: str) -> pd.DataFrame:
    with opened(place) as connection:
        quality = load_quality(place)
        window = {"start": time(2), "end": time(4)}
        return acoustic_nights(connection, quality, **window, zone=ZoneInfo(zone))


def test_the_noise_of_a_night_is_its_lowest_by_the_local_clock(kept: Callable[..., Path]) -> None:
    # Summer time: 00:30 to 01:30 UTC is within the window, 22:00 is not.
    times = ["2025-07-01 22:00", "2025-07-02 00:30", "2025-07-02 01:00", "2025-07-02 01:30"]
    frame = samples("X", times, [3.0, 41.0, 17.0, 22.0])
    other = samples("P", times, [40.0] * 4)
    found = noise(kept(frame, other, kinds=KINDS), "Europe/Zurich")
    assert found["device_id"].tolist() == ["X"]
    assert found["night"].dt.date.tolist() == [date(2025, 7, 2)]
    assert found[["level_db", "readings_count"]].to_numpy().tolist() == [[17.0, 3]]


def test_the_window_of_a_night_the_clocks_go_forward(kept: Callable[..., Path]) -> None:
    times = ["2025-03-30 01:00", "2025-03-30 01:59", "2025-03-30 02:10"]
    found = noise(kept(samples("X", times, [9.0, 8.0, 1.0]), kinds=KINDS), "Europe/Zurich")
    assert found["level_db"].tolist() == [8.0]


def test_no_samples(kept: Callable[..., Path]) -> None:
    place = kept()
    assert len(spells(place)) == 0
    assert len(pressures(place, "UTC")) == 0
    assert len(noise(place, "UTC")) == 0
