from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.store.database import opened
from district.store.empty_periods import empty_periods
from tests.store.conftest import intervals


def works(*spans: tuple[str, str, str], kind: str = "empty") -> pd.DataFrame:
    frame = pd.DataFrame(spans, columns=["place_id", "start", "end"]).assign(kind=kind)
    for name in ("start", "end"):
        frame[name] = pd.to_datetime(frame[name], utc=True)
    return frame


def around(place: Path, done: pd.DataFrame) -> pd.DataFrame:
    with opened(place) as connection:
        return empty_periods(connection, done)


def test_readings_within_and_around_an_empty_time(kept: Callable[..., Path]) -> None:
    # Half-day readings: 0.4 m³ each but for 0.01 each on the second and third day.
    volumes = np.r_[0.4, 0.4, np.full(4, 0.01), 0.4, 0.4]
    place = kept(intervals("A", "2025-03-03", volumes, 720))
    row = around(place, works(("A", "2025-03-04 06:00", "2025-03-05 18:00"))).iloc[0]
    assert (row["inside_h"], row["over_h"]) == (24, 48)
    assert row["inside_m3"] == pytest.approx(0.02)
    assert row["over_m3"] == pytest.approx(0.04)
    assert row["usual_m3_h"] == pytest.approx(1.6 / 48)


def test_a_time_not_read_round_or_with_a_gap_has_no_volume_around(
    kept: Callable[..., Path],
) -> None:
    table = intervals("A", "2025-03-03", np.ones(8), 720)
    table.loc[3, "quality"] = "reset"
    place = kept(table)
    found = around(
        place,
        works(
            ("A", "2025-03-04 06:00", "2025-03-05 06:00"),
            ("A", "2025-03-06 06:00", "2025-03-09 06:00"),
            ("B", "2025-03-04 06:00", "2025-03-05 06:00"),
        ),
    )
    assert found["over_h"].isna().all()
    assert found["inside_h"].to_list() == [0, 12, 0]


def test_only_empty_times_with_an_end_count(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-03-03", np.ones(8), 720))
    assert around(place, works(("A", "2025-03-04", "2025-03-05"), kind="flushing")).empty
    endless = works(("A", "2025-03-04", "2025-03-05")).assign(end=pd.NaT)
    assert around(place, endless).empty
