from __future__ import annotations

import numpy as np
import pandas as pd

from district.intake.lanes import lanes_of, thirds_needed
from district.schema.thirds import DAY_US, bins_of, counted

HOUR_US = 3_600_000_000
START_US = 55 * 365 * DAY_US


def presence(**times: np.ndarray) -> pd.DataFrame:
    """Table PRESENCE of devices by their times."""
    names = sorted(times)
    device = np.concatenate([np.full(len(times[n]), i) for i, n in enumerate(names)])
    time_us = np.concatenate([times[n] for n in names]).astype(np.int64)
    codes, bins, counts, first, last, _ = counted(device, time_us, time_us)
    return pd.DataFrame(
        {
            "device_id": pd.Categorical.from_codes(codes, names),
            "bin": bins,
            "rows_count": counts,
            "first_us": first,
            "last_us": last,
        }
    )


def every(hours: float, count: int, since_d: float = 0.0) -> np.ndarray:
    return START_US + int(since_d * DAY_US) + (np.arange(count) * hours * HOUR_US).astype(np.int64)


def test_what_is_read_seldom_is_cleaned_by_its_whole_record() -> None:
    found = lanes_of(presence(A=every(1, 800), B=every(24, 60), C=every(24 * 30, 20)))
    by_device = found.presence.assign(seldom=found.seldom).groupby("device_id", observed=True)
    assert by_device["seldom"].agg(["all", "any"]).values.tolist() == [
        [False, False], [True, True], [True, True],
    ]  # fmt: skip


def test_a_clock_that_drifts_is_known_by_the_whole_record() -> None:
    assert lanes_of(presence(A=every(1, 800)), drifting=["A"]).seldom.all()


def test_a_gap_asks_for_the_last_third_before_it() -> None:
    times = np.concatenate([every(1, 300), every(1, 300, since_d=200)])
    needed = thirds_needed(lanes_of(presence(A=times)))
    first = bins_of(times[:1])[0] // 2
    assert needed["third"].iloc[0] == first
    assert needed["new"].tolist() == [True, *[False] * (len(needed) - 1)]
    gaps = needed[needed["earlier"] >= 0]
    assert gaps["third"].tolist() == [bins_of(times[300:301])[0] // 2]
    assert gaps["earlier"].tolist() == [bins_of(times[299:300])[0] // 2]


def test_a_lost_clock_asks_for_no_third() -> None:
    times = np.concatenate([every(1, 3, since_d=-9000), every(1, 800)])
    lanes = lanes_of(presence(A=times))
    assert lanes.stray.sum() == 1
    assert thirds_needed(lanes)["third"].min() == bins_of(times[3:4])[0] // 2


def test_nothing_read_needs_nothing() -> None:
    nothing = lanes_of(presence(A=every(1, 0)))
    assert thirds_needed(nothing).empty
