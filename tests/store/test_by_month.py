from __future__ import annotations

import shutil
from dataclasses import fields
from datetime import time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district import store
from district.errors import OutputError
from district.results import Reduced
from district.schema.stored import (
    ACOUSTIC_NIGHTS,
    DAILY_VOLUMES,
    HOURLY_PRESSURES,
    LOWEST_HOURS,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import District, Night, Settings
from district.store import by_month
from district.store.database import opened
from district.store.long_tables import write_arrow
from district.store.lowest import lowest_hours
from district.store.minima import night_minima
from district.store.sensors import acoustic_nights, hourly_pressures
from district.store.volumes import daily_volumes, night_flows
from tests.store.conftest import intervals, quality, samples, save_parts

BOUNDARIES = pd.DataFrame(
    {
        "meter_id": ["M1", "M2"],
        "upstream_cell_id": ["", "A"],
        "downstream_cell_id": ["A", "B"],
    }
)
USERS = pd.DataFrame({"device_id": ["U1"], "cell_id": ["A"]})
ROLLING = Night(window="rolling")
# Clocks go on and back, by an hour and by half of one, at midnight too; the line of dates is near.
CLOCKS = (
    "UTC",
    "Europe/Zurich",
    "Australia/Lord_Howe",
    "America/Havana",
    "Pacific/Kiritimati",
    "Pacific/Pago_Pago",
)


def readings(first: str, days: int, seed: int = 1) -> list[pd.DataFrame]:
    """Some days of meters of many steps, one read every few weeks, and two loggers."""
    rng = np.random.default_rng(seed)
    hours = pd.date_range(first, periods=days * 24, freq="h")
    seldom = intervals("U2", first, rng.uniform(0, 50, max(days // 23, 1)), minutes=23 * 1440)
    short = intervals("U1", first, rng.uniform(0, 1, days * 24), minutes=60)
    short["start_utc"] += pd.Timedelta(minutes=7)
    short["end_utc"] += pd.Timedelta(minutes=7)
    return [
        intervals("M1", first, rng.uniform(1, 3, days * 96), minutes=15),
        intervals("M2", first, rng.uniform(0, 1, days * 48), minutes=30),
        short.drop(short.index[40:60]),
        seldom.assign(quality="gap"),
        samples("P", hours, rng.uniform(30, 50, len(hours))),
        samples("N", hours, rng.uniform(5, 40, len(hours))),
    ]


def kinds() -> pd.DataFrame:
    steps = {"M1": 0.25, "M2": 0.5, "U1": 1.0, "U2": 552.0, "P": 1.0, "N": 1.0}
    of = {"P": "pressure", "N": "acoustic"}
    return quality(
        *({"device_id": d, "kind": of.get(d, "pulse"), "step_h": h} for d, h in steps.items())
    )


def in_one_go(place: Path, settings: Settings) -> dict[str, pd.DataFrame]:
    """Each table from all readings at once, without anything kept."""
    zone, night, told = settings.zone_info(), settings.night, kinds()
    with opened(place) as connection:
        of: dict[str, Any] = {"start": night.start, "end": night.end, "zone": zone}
        minima = night_minima(
            connection,
            told,
            BOUNDARIES,
            start=night.search_start,
            end=night.search_end,
            zone=zone,
        )
        return {
            NIGHT_FLOWS.name: night_flows(connection, **of),
            NIGHT_MINIMA.name: minima,
            DAILY_VOLUMES.name: daily_volumes(connection, zone=zone),
            HOURLY_PRESSURES.name: hourly_pressures(connection, told, zone=zone),
            ACOUSTIC_NIGHTS.name: acoustic_nights(connection, told, **of),
            LOWEST_HOURS.name: lowest_hours(connection, minima, BOUNDARIES, USERS),
        }


def reduced(place: Path, settings: Settings) -> Reduced:
    return store.reduce(place, settings=settings, boundaries=BOUNDARIES, users=USERS)


def plain(frame: pd.DataFrame) -> pd.DataFrame:
    """With ids as text, however they are held."""
    return frame.astype({c: "str" for c in ("device_id", "cell_id") if c in frame})


def assert_same(found: Reduced, wanted: dict[str, pd.DataFrame]) -> None:
    # Rows are added up in another order where months do not end together: to the last digit.
    for name, table in wanted.items():
        pd.testing.assert_frame_equal(
            plain(getattr(found, name)), plain(table), rtol=1e-12, atol=1e-12
        )


def kept_files(place: Path) -> dict[str, int]:
    return {p.name: p.stat().st_ino for p in (place / "reduced").iterdir()}


@pytest.mark.parametrize("clock", CLOCKS)
@pytest.mark.parametrize(
    "night", [ROLLING, Night(window="rolling", search_start=time(0), search_end=time(5))]
)
def test_made_by_month_as_in_one_go(tmp_path: Path, clock: str, night: Night) -> None:
    save_parts(tmp_path, readings("2025-02-26 11:00", 72), kinds())
    settings = Settings(district=District(timezone=clock), night=night)
    found = reduced(tmp_path, settings)
    assert_same(found, in_one_go(tmp_path, settings))
    assert all(len(getattr(found, f.name)) for f in fields(Reduced) if f.name != "alarms")
    again = reduced(tmp_path, settings)
    for field in fields(Reduced):
        pd.testing.assert_frame_equal(getattr(again, field.name), getattr(found, field.name))


def test_the_months_of_autumn_too(tmp_path: Path) -> None:
    save_parts(tmp_path, readings("2025-10-20", 30), kinds())
    for clock in CLOCKS:
        settings = Settings(district=District(timezone=clock), night=ROLLING)
        assert_same(reduced(tmp_path, settings), in_one_go(tmp_path, settings))


def test_a_new_day_makes_its_own_month_alone_anew(tmp_path: Path) -> None:
    settings = Settings(district=District(timezone="Europe/Zurich"), night=ROLLING)
    days = readings("2025-01-01", 80)
    before = [t[t.iloc[:, 1] < pd.Timestamp("2025-03-20", tz="UTC")] for t in days]
    # Of the meter read seldom all, for what it reads tells of weeks before.
    before[3] = days[3]
    save_parts(tmp_path, before, kinds())
    reduced(tmp_path, settings)
    old = kept_files(tmp_path)
    save_parts(tmp_path, days, kinds())
    found = reduced(tmp_path, settings)
    new = kept_files(tmp_path)
    shutil.rmtree(tmp_path / "reduced")
    anew = reduced(tmp_path, settings)
    for field in fields(Reduced):
        # What was kept and what is made anew are the same bytes.
        pd.testing.assert_frame_equal(
            getattr(anew, field.name), getattr(found, field.name), check_exact=True
        )
    made = {n for n in new if n not in old}
    assert made
    assert all("2025-03" in n for n in made)
    assert {n: t for n, t in new.items() if "2025-03" not in n} == {
        n: t for n, t in old.items() if "2025-03" not in n
    }
    # One file a table and month: what went before is swept.
    assert len({n.rsplit("-", 1)[0] for n in new}) == len(new)
    assert_same(found, in_one_go(tmp_path, settings))


@pytest.mark.parametrize("harm", ["cut", "turned", "gone", "strange"])
def test_what_is_damaged_is_made_anew(tmp_path: Path, harm: str) -> None:
    settings = Settings(night=ROLLING)
    save_parts(tmp_path, readings("2025-01-20", 40), kinds())
    wanted = in_one_go(tmp_path, settings)
    reduced(tmp_path, settings)
    for path in (tmp_path / "reduced").iterdir():
        said = bytearray(path.read_bytes())
        if harm == "cut":
            path.write_bytes(said[: len(said) // 2])
        elif harm == "turned":
            said[60] ^= 0xFF
            path.write_bytes(said)
        elif harm == "gone":
            path.unlink()
        else:
            pd.DataFrame({"a": [1]}).to_parquet(path)
    assert_same(reduced(tmp_path, settings), wanted)
    assert_same(reduced(tmp_path, settings), wanted)


def test_other_settings_are_other_tables(tmp_path: Path) -> None:
    save_parts(tmp_path, readings("2025-01-20", 40), kinds())
    for settings in (
        Settings(night=ROLLING),
        Settings(night=replace_night(start=time(1), end=time(3))),
        Settings(night=replace_night(search_start=time(1), search_end=time(4))),
        Settings(district=District(timezone="Asia/Kathmandu"), night=ROLLING),
    ):
        assert_same(reduced(tmp_path, settings), in_one_go(tmp_path, settings))


def replace_night(**said: Any) -> Night:
    return ROLLING.model_copy(update=said)


def test_where_nothing_can_be_kept_all_is_made_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any) -> None:
        raise OutputError("no room")

    monkeypatch.setattr("district.store.by_month.write_arrow", refuse)
    save_parts(tmp_path, readings("2025-01-20", 40), kinds())
    settings = Settings(night=ROLLING)
    assert_same(reduced(tmp_path, settings), in_one_go(tmp_path, settings))
    assert not (tmp_path / "reduced").exists()


def test_a_run_that_is_killed_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = Settings(night=ROLLING)
    save_parts(tmp_path, readings("2025-01-20", 40), kinds())
    wanted, write, most = in_one_go(tmp_path, settings), write_arrow, 0
    for most in range(8):
        count = 0

        def killed(*said: Any, most: int = most) -> None:
            nonlocal count
            if count == most:
                raise KeyboardInterrupt
            count += 1
            write(*said)

        monkeypatch.setattr("district.store.by_month.write_arrow", killed)
        with pytest.raises(KeyboardInterrupt):
            reduced(tmp_path, settings)
        monkeypatch.setattr("district.store.by_month.write_arrow", write)
        assert_same(reduced(tmp_path, settings), wanted)
        shutil.rmtree(tmp_path / "reduced")
    assert most


def test_a_reading_of_long_ago_is_not_paid_for_by_the_month(tmp_path: Path) -> None:
    long = intervals("U1", "1975-06-03", [1000.0], minutes=1440 * 18_000).assign(quality="gap")
    days = readings("2025-01-20", 40)
    last = long["end_utc"].iloc[0]
    assert last < pd.Timestamp("2025-01-20", tz="UTC")
    save_parts(tmp_path, [*days[:2], pd.concat([long, days[2]]), *days[3:]], kinds())
    settings = Settings(night=ROLLING)
    found = reduced(tmp_path, settings)
    assert_same(found, in_one_go(tmp_path, settings))
    own = [n for n in kept_files(tmp_path) if n.startswith(DAILY_VOLUMES.name)]
    assert len(own) < 12


def test_swept_with_the_rest(tmp_path: Path) -> None:
    save_parts(tmp_path, readings("2025-01-20", 20), kinds())
    reduced(tmp_path, Settings())
    store.clear(tmp_path)
    assert not (tmp_path / "reduced").exists()


def test_marks_tell_texts_and_tables_apart() -> None:
    frame = pd.DataFrame({"a": ["x"], "b": [1.0]})
    marks = {
        by_month.marked("ab", "c"),
        by_month.marked("a", "bc"),
        by_month.marked(frame),
        by_month.marked(frame.assign(b=2.0)),
    }
    assert len(marks) == 4
    assert by_month.marked(frame) == by_month.marked(frame.copy())


def sixty_days(place: Path, clock: str) -> dict[str, Any]:
    """What `by_month` takes for the daily volumes of sixty days stored at a place."""
    save_parts(place, readings("2025-01-20", 60), kinds())
    zone = ZoneInfo(clock)
    kept = by_month.Reduction(
        DAILY_VOLUMES, "", lambda c, d, _: daily_volumes(c, dates=d, zone=zone)
    )
    return {
        "place": place,
        "manifest": store.read_manifest(place),
        "wanted": [kept],
        "zone": zone,
    }


def test_the_latest_months_alone(tmp_path: Path) -> None:
    of = sixty_days(tmp_path, "UTC")
    late = by_month.by_month(**of, since=pd.Timestamp("2025-03-05"))[DAILY_VOLUMES.name]
    assert late["day"].min() == pd.Timestamp("2025-03-01")
    whole = by_month.by_month(**of)[DAILY_VOLUMES.name]
    assert whole["day"].min() == pd.Timestamp("2025-01-20")
    files = sorted(p.name for p in (tmp_path / "reduced").iterdir())
    # What is left out now is not swept: it is asked for again.
    next(p for p in (tmp_path / "reduced").iterdir() if "2025-03" in p.name).unlink()
    by_month.by_month(**of, since=pd.Timestamp("2025-03-05"))
    assert sorted(p.name for p in (tmp_path / "reduced").iterdir()) == files


def test_only_what_is_kept_and_of_some_devices(tmp_path: Path) -> None:
    of = sixty_days(tmp_path, "UTC")
    assert by_month.by_month(**of, most_made=0)[DAILY_VOLUMES.name].empty
    whole = by_month.by_month(**of)[DAILY_VOLUMES.name]
    device = str(whole["device_id"].iloc[0])
    assert whole["device_id"].nunique() > 1
    some = by_month.by_month(**of, most_made=0, until=pd.Timestamp("2025-03-01"), among=[device])
    wanted = whole[(whole["device_id"] == device) & (whole["day"] < "2025-03-01")]
    assert some[DAILY_VOLUMES.name]["day"].tolist() == wanted["day"].tolist()
    assert set(some[DAILY_VOLUMES.name]["device_id"].astype(str)) == {device}


def test_only_so_many_are_made_anew_the_latest_first(tmp_path: Path) -> None:
    of = sixty_days(tmp_path, "UTC")
    days = by_month.by_month(**of, most_made=1)[DAILY_VOLUMES.name]["day"]
    assert set(days.dt.strftime("%Y-%m")) == {"2025-03"}
    days = by_month.by_month(**of, most_made=1)[DAILY_VOLUMES.name]["day"]
    assert set(days.dt.strftime("%Y-%m")) == {"2025-02", "2025-03"}
    whole = by_month.by_month(**of, most_made=1)[DAILY_VOLUMES.name]
    pd.testing.assert_frame_equal(whole, by_month.by_month(**of)[DAILY_VOLUMES.name])


def test_thirds_of_large_months_give_the_same_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    of = sixty_days(tmp_path, "Europe/Zurich")
    by_months = by_month.by_month(**of)[DAILY_VOLUMES.name]
    monkeypatch.setattr(by_month, "_LARGE_BYTES", 0)
    by_thirds = by_month.by_month(**of)[DAILY_VOLUMES.name]
    names = {p.name[: len("daily_volumes-2025-01-20")] for p in (tmp_path / "reduced").iterdir()}
    assert "daily_volumes-2025-02-11" in names
    pd.testing.assert_frame_equal(by_thirds, by_months)
