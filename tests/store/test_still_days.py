from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.schema.columns import check
from district.schema.stored import STILL_DAYS
from district.settings import EmptyHours
from district.store.database import opened
from district.store.keep import load_quality
from district.store.still_days import still_days
from tests.store.conftest import intervals

LONDON, UTC = ZoneInfo("Europe/London"), ZoneInfo("UTC")


def met(*ids: str) -> pd.DataFrame:
    return pd.DataFrame({"device_id": list(ids), "building_id": [f"in {i}" for i in ids]})


def reduced(
    place: Path,
    meters: pd.DataFrame,
    zone: ZoneInfo = UTC,
    rules: Sequence[EmptyHours] = (),
    days: pd.DatetimeIndex | None = None,
    resolution_m3: float = 0.001,
) -> pd.DataFrame:
    quality = load_quality(place).assign(resolution_m3=resolution_m3)
    with opened(place) as connection:
        found = still_days(connection, quality, meters, zone=zone, empty_hours=rules, days=days)
    assert check(STILL_DAYS, found, source="test")[1] == ()
    return found


def by_hand(volumes: np.ndarray, read: np.ndarray) -> dict[str, float]:
    """Hours of one day counted one after the other."""
    still = read & (volumes == 0)
    last_still = max((h for h in range(len(still)) if still[h]), default=-1)
    runs = "".join("s" if s else "-" for s in still)
    read_to = max(h for h in range(len(read)) if read[h]) + 1
    ended = runs[:read_to]
    return {
        "hours_count": read.sum(),
        "still_count": still.sum(),
        "longest_still_h": max(len(r) for r in runs.split("-")),
        "still_first_h": len(runs) - len(runs.lstrip("s")),
        "still_last_h": len(ended) - len(ended.rstrip("s")),
        "flow_last_h": read[last_still + 1 :].sum(),
    }


@pytest.mark.parametrize("seed", range(6))
def test_hours_are_counted_as_by_hand(kept: Callable[..., Path], seed: int) -> None:
    rng = np.random.default_rng(seed)
    volumes = rng.integers(0, 3, 24) * 0.001 * (rng.random(24) < 0.6)
    read = rng.random(24) > 0.15 * (seed % 3)
    table = intervals("A", "2025-03-03", volumes)
    table.loc[~read, "quality"] = "spike"
    found = reduced(kept(table), met("A")).iloc[0]
    expected = by_hand(volumes, read)
    assert {k: found[k] for k in expected} == expected
    assert found["lowest_l_s"] == pytest.approx(volumes[read].min() / 3.6)


@pytest.mark.parametrize("minutes", [5, 7, 15, 60])
def test_intervals_of_any_step_make_hours(kept: Callable[..., Path], minutes: int) -> None:
    # One litre in each minute but those of hour 3.
    minute = np.ones(2 * 1440)
    minute[180:240] = 0
    count = len(minute) // minutes
    volumes = minute[: count * minutes].reshape(count, minutes).sum(axis=1) / 1000
    first = reduced(kept(intervals("A", "2025-03-03", volumes, minutes)), met("A")).iloc[0]
    assert first["hours_count"] == 24
    assert (first["still_count"], first["lowest_l_s"]) == (1, 0.0)


@pytest.mark.parametrize(
    ("start", "day", "hours"),
    [("2025-03-29 00:00", "2025-03-30", 23), ("2025-10-25 00:00", "2025-10-26", 25)],
)
def test_the_days_of_the_clock_changes_have_their_hours(
    kept: Callable[..., Path], start: str, day: str, hours: int
) -> None:
    place = kept(intervals("A", start, np.zeros(96)))
    found = reduced(place, met("A"), LONDON).set_index("day")
    changed = found.loc[pd.Timestamp(day)]
    assert changed["hours_count"] == changed["still_count"] == hours
    assert changed["longest_still_h"] == changed["still_first_h"] == hours
    assert changed["still_last_h"] == hours
    assert found["hours_count"].sum() == 96


def test_half_a_step_is_still_and_backward_flow_is_not(kept: Callable[..., Path]) -> None:
    volumes = np.r_[np.full(12, 0.0004), np.full(11, 0.0006), -0.002]
    found = reduced(kept(intervals("A", "2025-03-03", volumes)), met("A")).iloc[0]
    assert (found["still_count"], found["flow_last_h"]) == (12, 12)


def test_stuck_hours_are_counted_apart_and_long_intervals_left_out(
    kept: Callable[..., Path],
) -> None:
    a = intervals("A", "2025-03-03", np.ones(24))
    a.loc[20:, ["quality", "volume_m3"]] = ["stuck", np.nan]
    found = reduced(kept(a, intervals("B", "2025-03-03", [1, 1], 720)), met("A", "B"))
    assert found[["device_id", "hours_count", "stuck_h"]].to_numpy().tolist() == [["A", 20, 4]]


NIGHTS = EmptyHours(places=("A",), start=time(22), end=time(6))
WEEKEND = EmptyHours(places=("in B",), weekdays=("sat", "sun"), start=time(0), end=time(0))


def test_empty_hours_go_over_midnight_and_belong_to_their_own_days(
    kept: Callable[..., Path],
) -> None:
    # 3.6 L in every hour at night, 36 by day.
    hour = np.arange(72) % 24
    volumes = np.where((hour < 6) | (hour >= 22), 0.0036, 0.036)
    found = reduced(kept(intervals("A", "2025-03-03", volumes)), met("A"), rules=[NIGHTS])
    assert found["empty_h"].to_list() == [8, 8, 8]
    assert found["empty_l_s"].to_numpy() == pytest.approx(0.001)


def test_a_skipped_and_a_repeated_hour_shorten_and_lengthen_the_empty_night(
    kept: Callable[..., Path],
) -> None:
    spring = reduced(
        kept(intervals("A", "2025-03-29 00:00", np.zeros(72))), met("A"), LONDON, [NIGHTS]
    ).set_index("day")["empty_h"]
    assert spring[pd.Timestamp("2025-03-30")] == 7
    autumn = reduced(
        kept(intervals("A", "2025-10-24 23:00", np.zeros(72))), met("A"), LONDON, [NIGHTS]
    ).set_index("day")["empty_h"]
    assert autumn[pd.Timestamp("2025-10-26")] == 9


def test_two_readings_within_an_empty_weekend_tell_of_both_days(
    kept: Callable[..., Path],
) -> None:
    # 2025-03-08 is a Saturday. 30 L in 40 h from 04:00; the readings of the week before count not.
    parts = [
        intervals("B", "2025-03-07 04:00", [0.9], 24 * 60),
        intervals("B", "2025-03-08 04:00", [0.03], 40 * 60),
    ]
    place = kept(pd.concat(parts, ignore_index=True))
    found = reduced(place, met("B"), rules=[WEEKEND])
    assert found["empty_h"].to_list() == [20, 20]
    assert found["empty_l_s"].to_numpy() == pytest.approx(30 / (40 * 3600))
    assert found["hours_count"].to_list() == [0, 0]


def test_a_range_of_days_gives_the_same_rows_as_the_whole(kept: Callable[..., Path]) -> None:
    rng = np.random.default_rng(2)
    volumes = rng.integers(0, 3, 24 * 60) * 0.001
    meters, rules = met("A", "B"), [NIGHTS, WEEKEND]
    place = kept(*(intervals(i, "2025-03-10 07:00", volumes) for i in ("A", "B")))
    whole = reduced(place, meters, LONDON, rules)
    dates = pd.DatetimeIndex(whole["day"].unique())
    parts = [reduced(place, meters, LONDON, rules, dates[i : i + 17]) for i in range(0, 61, 17)]
    joined = pd.concat(parts).sort_values(["device_id", "day"], ignore_index=True)
    pd.testing.assert_frame_equal(joined, whole)


def test_nothing_asked_is_nothing_found(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-03-03", np.ones(24)))
    assert reduced(place, met()).empty
    assert reduced(place, met("A"), days=pd.DatetimeIndex([])).empty
