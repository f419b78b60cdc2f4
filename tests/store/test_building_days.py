from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.errors import StoreError
from district.schema.columns import empty
from district.schema.inputs import WORKS
from district.schema.stored import STILL_DAYS
from district.settings import EmptyHours
from district.store import building_days
from district.store.building_days import RECENT_DAYS
from district.store.database import opened
from district.store.keep import REDUCED_FOLDER, load_quality
from district.store.still_days import still_days
from tests.store.conftest import intervals, quality, samples, save_parts

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


def test_recent_days_are_kept_by_month_and_say_the_same(tmp_path: Path) -> None:
    usual, place = np.where(np.arange(24 * 150) % 24 < 6, 0.0, 0.37), tmp_path
    read = [intervals(name, "2025-03-03", usual) for name in ("A", "B")]
    sensed = [*read, samples("P", ["2025-03-03"], [40.0])]
    steps = quality(*({"device_id": n, "kind": "register", "step_h": 1.0} for n in ("A", "B")))
    save_parts(place, sensed, steps)
    meters = pd.DataFrame({"device_id": ["A", "B"], "building_id": ["Hall", ""]})
    hours = (EmptyHours(places=("Hall",), start=time(22), end=time(5)),)
    zone = ZoneInfo("Europe/Zurich")

    def told(*rules: EmptyHours) -> pd.DataFrame:
        return building_days(place, meters, empty(WORKS), zone=zone, empty_hours=rules)[0]

    def months() -> dict[str, int]:
        found = (place / REDUCED_FOLDER).glob(f"{STILL_DAYS.name}-*")
        return {p.name: p.stat().st_ino for p in found}

    first = told(*hours)
    made = months()
    assert sorted(name[:18] for name in made) == [
        f"still_days-2025-{month:02d}" for month in (5, 6, 7)
    ]
    with opened(place) as connection:
        whole = still_days(
            connection, load_quality(place), meters, zone=zone, empty_hours=hours,
            days=pd.DatetimeIndex(sorted(first["day"].unique())),
        )  # fmt: skip
    pd.testing.assert_frame_equal(first, whole)
    pd.testing.assert_frame_equal(told(*hours), first)
    assert months() == made
    # Other empty hours are other rows.
    assert (told()["empty_h"] == 0).all()
    assert not made.keys() & months().keys()
    # So are those of a coarser step: what passes is less than half of it.
    save_parts(place, sensed, steps.assign(resolution_m3=1.0))
    coarse = told()
    assert (coarse["still_count"] == coarse["hours_count"]).all()


def test_what_was_kept_while_it_was_recent_says_the_same_as_the_readings(
    tmp_path: Path,
) -> None:
    hours = np.arange(24 * 200)
    usual = np.where(hours % 24 < 6, 0.0, 1.0)
    read = [
        intervals("runs", "2025-03-03", np.where(hours < 2000, usual, 1.0)),
        intervals("usual", "2025-03-03", usual),
        samples("P", ["2025-03-03"], [40.0]),
    ]
    known = {"kind": "register", "step_h": 1.0}
    save_parts(tmp_path, read, quality(*(known | {"device_id": n} for n in ("runs", "usual"))))
    meters = pd.DataFrame({"device_id": ["runs", "usual"], "building_id": ""})

    def told() -> pd.DataFrame:
        return building_days(tmp_path, meters, empty(WORKS), zone=UTC)[0]

    first = told()  # keeps every month
    kept = sorted((tmp_path / REDUCED_FOLDER).glob(f"{STILL_DAYS.name}-*"))
    assert [p.name[:18] for p in kept] == [f"still_days-2025-{m:02d}" for m in range(3, 10)]
    for gone in (kept[:1], kept[2:3], kept[:3], kept[:5]):
        for path in gone:
            path.unlink(missing_ok=True)
        pd.testing.assert_frame_equal(told(), first)
    assert not kept[0].exists()  # later runs read the rest for those meters alone
    with opened(tmp_path) as connection:
        far = meters[meters["device_id"] == "runs"]
        whole = still_days(connection, load_quality(tmp_path), far, zone=UTC)
    own = first[first["device_id"] == "runs"].reset_index(drop=True)
    pd.testing.assert_frame_equal(own, whole)
