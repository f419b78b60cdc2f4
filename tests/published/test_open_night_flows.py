"""Nights of ten real areas, through a whole folder, against plain pandas on the same file.

Hourly net inflow of 2021 with gaps as measured: Alvisi et al. 2025, Journal of Water Resources
Planning and Management 151(10), doi 10.1061/JWRMD5.WRENG-6887, CC BY 4.0 (`dma_inflow_2021.md`).
The two slices hold the clock changes of 28 March and 31 October.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.opening import open_folder
from district.results import Reduced
from tests.published.open_folder import AREAS, make_open_folder

HERE = Path(__file__).parent
ROME = "Europe/Rome"


class Slice:
    """One file: as the tool reduces it, and as pandas reads it."""

    def __init__(self, name: str, folder: Path) -> None:
        path = HERE / f"dma_inflow_2021_{name}.csv"
        self.name = name
        self.reduced: Reduced = open_folder(make_open_folder(folder, path)).reduced
        plain = pd.read_csv(path)
        local = pd.DatetimeIndex(plain.pop("time_local")).tz_localize(ROME, ambiguous="infer")
        self.hours: pd.DataFrame = plain.set_axis(local.tz_convert("UTC")).asfreq("h")

    def by_night(self, first: int, last: int) -> Any:
        """Hours from `first` to before `last` o'clock, by area and local date."""
        local = self.hours.index.tz_convert(ROME)
        inside = (local.hour >= first) & (local.hour < last)
        return self.hours[inside].groupby(local[inside].tz_localize(None).normalize())


@pytest.fixture(scope="module", params=["spring", "autumn"])
def part(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Slice:
    return Slice(request.param, tmp_path_factory.mktemp("open") / "areas")


def wide(table: pd.DataFrame, column: str, place: str = "device_id") -> pd.DataFrame:
    return table.pivot(index="night", columns=place, values=column).reindex(columns=list(AREAS))


def whole(hours: Any, reduce: Callable[[Any], Any]) -> pd.DataFrame:
    """`reduce` of the nights of which no hour is missing; NaN on the others."""
    return reduce(hours).where(hours.count().eq(hours.size(), axis=0))


def agree(found: pd.DataFrame, plain: pd.DataFrame) -> None:
    """The same nights are known, and alike to the rounding of floating point."""
    found = found.reindex(plain.index)
    assert plain.notna().to_numpy().sum() > 200
    pd.testing.assert_frame_equal(
        found, plain, check_names=False, check_freq=False, check_dtype=False, rtol=1e-9
    )


def test_the_lowest_hour_of_every_night(part: Slice) -> None:
    minima = part.reduced.night_minima
    agree(
        wide(minima, "minimum_night_flow_l_s", "cell_id"),
        whole(part.by_night(0, 6), lambda h: h.min()),
    )


def test_the_hour_it_began(part: Slice) -> None:
    found = wide(part.reduced.night_minima, "start_utc", "cell_id")
    for area in AREAS:
        started = found[area].dropna()
        nights = part.by_night(0, 6)[area]
        plain = {n: s.idxmin() for n, s in nights if s.notna().all()}
        assert started.to_dict() == plain


def test_the_mean_of_every_night_window(part: Slice) -> None:
    flows = part.reduced.night_flows
    hours = part.by_night(2, 4)
    # The night of spring has but the hour from three, that of autumn the second one twice.
    agree(wide(flows, "flow_l_s"), whole(hours, lambda h: h.mean()))


def test_how_long_a_window_is_and_how_much_of_it_was_read(part: Slice) -> None:
    flows = part.reduced.night_flows
    hours = part.by_night(2, 4)
    length = flows.groupby("night")["window_h"].agg(["min", "max"])
    expected = hours.size().reindex(length.index).astype(float)
    assert (length["min"] == expected).all()
    assert (length["max"] == expected).all()
    changed = {"spring": ("2021-03-28", 1.0), "autumn": ("2021-10-31", 3.0)}[part.name]
    assert expected[changed[0]] == changed[1]
    assert sorted(set(expected)) == sorted({2.0, changed[1]})
    share = hours.count().div(hours.size(), axis=0)
    found = wide(flows, "coverage_share").reindex(share.index).fillna(0.0)
    assert np.allclose(found, share)
    assert ((share > 0) & (share < 1)).to_numpy().any()


def test_what_is_missing_between_the_first_and_the_last_reading(part: Slice) -> None:
    """Hours before a meter's first reading and after its last are not counted: nobody says that
    it stood there."""
    told = part.reduced.quality.set_index("device_id")
    for area in AREAS:
        read = part.hours[area]
        inside = read[read.first_valid_index() : read.last_valid_index()]
        assert told.loc[area, "readings_count"] == inside.notna().sum()
        assert told.loc[area, "expected_count"] == len(inside)
        assert told.loc[area, "missing_count"] == inside.isna().sum()
        assert told.loc[area, "missing_share"] == pytest.approx(inside.isna().mean(), abs=1e-12)
        assert told.loc[area, "step_h"] == 1.0
    assert told["missing_share"].max() > {"spring": 0.2, "autumn": 0.01}[part.name]


def test_no_reading_is_set_aside(part: Slice) -> None:
    """So that the figures above compare the same hours: none is below zero, stands still for
    three hours or stands four times above all that lasts."""
    told = part.reduced.quality
    counts = [
        c for c in told.columns if c.endswith("_count") and c[:3] not in ("rea", "exp", "mis")
    ]
    assert counts == [
        "gap_count", "spike_count", "stuck_count", "reset_count", "negative_count",
        "impossible_count",
    ]  # fmt: skip
    assert (told[counts] == 0).to_numpy().all()


def test_daily_volumes_add_the_hours_that_were_read(part: Slice) -> None:
    found = part.reduced.daily_volumes.pivot(
        index="day", columns="device_id", values="volume_m3"
    ).reindex(columns=list(AREAS))
    days = part.hours.index.tz_convert(ROME).tz_localize(None).normalize()
    plain = part.hours.mul(3.6).groupby(days).sum(min_count=1)
    pd.testing.assert_frame_equal(
        found.reindex(plain.index), plain, check_names=False, check_freq=False, rtol=1e-9
    )
