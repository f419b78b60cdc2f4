from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.store.database import opened
from district.store.keep import load_quality
from district.store.minima import night_minima
from tests.store.conftest import intervals

BOUNDARIES = pd.DataFrame(
    {
        "meter_id": ["IN", "AB", "OUT"],
        "upstream_cell_id": ["", "A", "B"],
        "downstream_cell_id": ["A", "B", ""],
    }
)


def minima(place: Path, zone: str = "UTC", boundaries: pd.DataFrame = BOUNDARIES) -> pd.DataFrame:
    with opened(place) as connection:
        return night_minima(
            connection,
            load_quality(place),
            boundaries,
            start=time(0),
            end=time(6),
            zone=ZoneInfo(zone),
        )


def flows(days: int = 6, start: str = "2025-03-28") -> dict[str, pd.DataFrame]:
    rng = np.random.default_rng(4)
    return {
        "IN": intervals("IN", start, rng.uniform(3, 9, days * 96), 15),
        "AB": intervals("AB", start, rng.uniform(-1, 3, days * 48), 30),
        "OUT": intervals("OUT", start, rng.uniform(0, 1, days * 24)),
    }


def rolling(table: pd.DataFrame, step: str, zone: str) -> pd.DataFrame:
    """Lowest rolling hour of each local night from midnight to six, with pandas."""
    hour = int(pd.Timedelta("1h") / pd.Timedelta(step))
    local = table.index.tz_convert(zone)
    night = local[local.hour < 6].normalize().tz_localize(None)
    return (
        table[local.hour < 6]
        .groupby(night)
        .apply(lambda s: s.rolling(hour).sum().min() / 3.6)
        .rename("minimum")
    )


def resampled(frame: pd.DataFrame, step: str) -> pd.Series:
    return frame.set_index("start_utc")["volume_m3"].resample(step).sum()


@pytest.mark.parametrize("zone", ["UTC", "Europe/London"])
def test_minima_agree_with_pandas(kept: Callable[..., Path], zone: str) -> None:
    flow = flows()
    found = minima(kept(*flow.values()), zone).set_index(["cell_id", "night"])
    net = {
        ("A", "30min"): resampled(flow["IN"], "30min") - resampled(flow["AB"], "30min"),
        ("B", "1h"): resampled(flow["AB"], "1h") - resampled(flow["OUT"], "1h"),
    }
    for (cell, step), table in net.items():
        by_hand = rolling(table, step, zone)
        mine = found.loc[cell, "minimum_night_flow_l_s"]
        assert len(mine) == 6
        np.testing.assert_allclose(mine, by_hand[mine.index])


def test_a_night_on_which_a_meter_lacks_a_reading_is_absent(kept: Callable[..., Path]) -> None:
    flow = flows()
    flow["AB"] = flow["AB"].drop(index=[48 + 5])
    flow["OUT"].loc[24 * 3 + 2, ["quality", "volume_m3"]] = ["stuck", np.nan]
    found = minima(kept(*flow.values()))
    nights = {c: {n.day for n in t["night"]} for c, t in found.groupby("cell_id")}
    assert nights == {"A": {28, 30, 31, 1, 2}, "B": {28, 30, 1, 2}}


def test_a_meter_never_read_or_read_daily_leaves_its_cells_without(
    kept: Callable[..., Path],
) -> None:
    flow = flows()
    assert set(minima(kept(flow["IN"], flow["AB"]))["cell_id"]) == {"A"}
    daily = intervals("AB", "2025-03-28", [24.0] * 6, 60 * 24)
    assert len(minima(kept(flow["IN"], daily, flow["OUT"]))) == 0


def test_hours_stamped_past_the_hour_are_shared_out(kept: Callable[..., Path]) -> None:
    only = pd.DataFrame({"meter_id": ["IN"], "upstream_cell_id": [""], "downstream_cell_id": ["A"]})
    steady = intervals("IN", "2025-06-01 00:07", [3.6] * 72)
    found = minima(kept(steady), boundaries=only)
    assert found["minimum_night_flow_l_s"].tolist() == pytest.approx([1.0, 1.0])


def test_steps_that_do_not_divide_the_hour(kept: Callable[..., Path]) -> None:
    only = pd.DataFrame({"meter_id": ["IN"], "upstream_cell_id": [""], "downstream_cell_id": ["A"]})
    steady = intervals("IN", "2025-06-01", [0.42] * 600, 7)
    found = minima(kept(steady), boundaries=only)
    assert found["minimum_night_flow_l_s"].tolist() == pytest.approx([1.0] * 3)


def test_the_lowest_hour_begins_where_it_is_lowest(kept: Callable[..., Path]) -> None:
    only = pd.DataFrame({"meter_id": ["IN"], "upstream_cell_id": [""], "downstream_cell_id": ["A"]})
    volumes = np.full(96 * 2, 1.1)
    volumes[[9, 10, 11, 12]] = 0.3  # 02:15 to 03:15 of the first night.
    found = minima(kept(intervals("IN", "2025-06-01", volumes, 15)), boundaries=only)
    # All hours of the second night are equal but for the last digits of their sums.
    assert [str(t) for t in found["start_utc"]] == [
        "2025-06-01 02:15:00+00:00",
        "2025-06-02 00:00:00+00:00",
    ]
    assert found["minimum_night_flow_l_s"].tolist() == pytest.approx([1.2 / 3.6, 4.4 / 3.6])


def test_a_meter_within_one_cell_is_not_at_its_edge(kept: Callable[..., Path]) -> None:
    inside = pd.DataFrame(
        {
            "meter_id": ["IN", "AB"],
            "upstream_cell_id": ["", "A"],
            "downstream_cell_id": ["A", "A"],
        }
    )
    found = minima(kept(intervals("IN", "2025-06-01", [3.6] * 48)), boundaries=inside)
    assert found["minimum_night_flow_l_s"].tolist() == pytest.approx([1.0, 1.0])


def test_no_boundaries(kept: Callable[..., Path]) -> None:
    assert len(minima(kept(flows()["IN"]), boundaries=BOUNDARIES[:0])) == 0
