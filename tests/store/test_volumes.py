from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.store.database import opened
from district.store.volumes import daily_volumes, night_flows
from tests.store.conftest import intervals

ZONES = ["Europe/London", "America/New_York", "Australia/Lord_Howe"]


def nights(place: Path, zone: str = "UTC", start: time = time(2), end: time = time(4)) -> object:
    with opened(place) as connection:
        return night_flows(connection, start=start, end=end, zone=ZoneInfo(zone))


def days(place: Path, zone: str = "UTC") -> pd.DataFrame:
    with opened(place) as connection:
        return daily_volumes(connection, zone=ZoneInfo(zone))


def minutes_of(frame: pd.DataFrame, zone: str) -> pd.DataFrame:
    """Every sound minute of the intervals with its share of volume and its local time, by hand."""
    parts = []
    for row in frame[frame["quality"].isin(["ok", "gap"])].itertuples():
        instants = pd.date_range(row.start_utc, row.end_utc, freq="1min", inclusive="left")
        length_h = (row.end_utc - row.start_utc) / pd.Timedelta(hours=1)
        parts.append(
            pd.DataFrame(
                {
                    "device_id": row.device_id,
                    "local": instants.tz_convert(zone).tz_localize(None),
                    "volume": row.volume_m3 / len(instants),
                    "short": (row.quality == "ok") & (length_h <= 1),
                    "long": length_h > 25,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


@pytest.fixture
def mixed() -> pd.DataFrame:
    """Three meters over both clock changes of most zones: odd minutes, gaps, long reads, flaws."""
    rng = np.random.default_rng(2)
    frames = []
    for start in ("2025-03-07", "2025-03-28", "2025-04-04", "2025-10-03", "2025-10-24"):
        count = 24 * 4
        a = intervals("A", f"{start} 00:07", rng.uniform(0, 1, count))
        b = intervals("B", start, rng.uniform(-1, 1, count * 4), 15)
        b.loc[[30, 200], ["quality", "volume_m3"]] = ["spike", np.nan]
        a.loc[10, "quality"] = "gap"
        c = intervals("C", f"{start} 09:00", rng.uniform(1, 2, 1), 60 * 24 * 3)
        frames += [a.drop(index=40), b, c]
    return pd.concat(frames, ignore_index=True)


@pytest.mark.parametrize("zone", ZONES)
def test_nights_agree_with_counting_minutes(
    kept: Callable[..., Path], mixed: pd.DataFrame, zone: str
) -> None:
    found = nights(kept(mixed), zone)
    minutes = minutes_of(mixed, zone)
    minutes = minutes[minutes["short"] & minutes["local"].dt.hour.isin([2, 3])]
    minutes["night"] = minutes["local"].dt.normalize()
    by_hand = minutes.groupby(["device_id", "night"])["volume"].agg(["sum", "count"])
    assert list(zip(found["device_id"], found["night"], strict=True)) == list(by_hand.index)
    covered_h = by_hand["count"].to_numpy() / 60
    np.testing.assert_allclose(found["coverage_share"] * found["window_h"], covered_h)
    whole = found["coverage_share"] >= 0.99
    assert whole.any()
    assert not whole.all()
    flow = by_hand["sum"].to_numpy() / covered_h / 3.6
    np.testing.assert_allclose(found.loc[whole, "flow_l_s"], flow[whole])
    either_way = minutes["volume"].abs().groupby([minutes["device_id"], minutes["night"]]).sum()
    gross = either_way.to_numpy() / covered_h / 3.6
    np.testing.assert_allclose(found.loc[whole, "gross_l_s"], gross[whole])
    assert found.loc[~whole, ["flow_l_s", "gross_l_s"]].isna().all().all()


@pytest.mark.parametrize("zone", ZONES)
def test_days_agree_with_counting_minutes(
    kept: Callable[..., Path], mixed: pd.DataFrame, zone: str
) -> None:
    found = days(kept(mixed), zone)
    minutes = minutes_of(mixed, zone)
    day = minutes["local"].dt.normalize()
    by_hand = minutes.groupby(["device_id", day]).agg(
        volume=("volume", "sum"),
        gross=("volume", lambda each: each.abs().sum()),
        count=("volume", "size"),
        long=("long", "sum"),
    )
    assert list(zip(found["device_id"], found["day"], strict=True)) == list(by_hand.index)
    np.testing.assert_allclose(found["volume_m3"], by_hand["volume"])
    np.testing.assert_allclose(found["gross_m3"], by_hand["gross"])
    starts = pd.DatetimeIndex(found["day"]).tz_localize(zone)
    ends = pd.DatetimeIndex(found["day"] + pd.Timedelta(days=1)).tz_localize(zone)
    length_min = np.asarray((ends - starts) / pd.Timedelta(minutes=1))
    np.testing.assert_allclose(found["coverage_share"], by_hand["count"] / length_min)
    np.testing.assert_allclose(found["spread_share"], by_hand["long"] / length_min)


def test_water_is_neither_lost_nor_made(kept: Callable[..., Path], mixed: pd.DataFrame) -> None:
    found = days(kept(mixed), "Australia/Lord_Howe")
    sound = mixed[mixed["quality"].isin(["ok", "gap"])]
    assert found["volume_m3"].sum() == pytest.approx(sound["volume_m3"].sum())


def test_a_known_flow(kept: Callable[..., Path]) -> None:
    # 3.6 m³ an hour is 1 L/s.
    found = nights(kept(intervals("M", "2025-06-01", [3.6] * 48)))
    assert found["flow_l_s"].tolist() == pytest.approx([1.0, 1.0])
    assert found["window_h"].tolist() == [2.0, 2.0]


def test_a_flow_that_turns_round_counts_both_ways(kept: Callable[..., Path]) -> None:
    place = kept(intervals("M", "2025-06-01", [3.6, -1.8] * 24))
    assert nights(place)["flow_l_s"].tolist() == pytest.approx([0.25, 0.25])
    assert nights(place)["gross_l_s"].tolist() == pytest.approx([0.75, 0.75])
    assert days(place)["volume_m3"].tolist() == pytest.approx([21.6, 21.6])
    assert days(place)["gross_m3"].tolist() == pytest.approx([64.8, 64.8])


def test_longer_than_an_hour_says_nothing_of_the_night(kept: Callable[..., Path]) -> None:
    assert len(nights(kept(intervals("M", "2025-06-01", [7.2] * 24, 120)))) == 0


def test_no_intervals(kept: Callable[..., Path]) -> None:
    place = kept()
    assert len(nights(place)) == 0
    assert len(days(place)) == 0
