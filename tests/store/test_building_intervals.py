from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from district.errors import StoreError
from district.schema.stored import INTERVALS
from district.store import building_intervals
from tests.store.conftest import intervals


def test_each_meter_comes_whole_and_in_order(kept: Callable[..., Path]) -> None:
    flows = {name: intervals(name, "2025-01-01", range(n + 3), 15) for n, name in enumerate("ABCD")}
    flows["B"].loc[1, "quality"] = "spike"
    place = kept(*flows.values())
    frames = list(building_intervals(place, devices=["D", "B", "A", "B", "Z"], at_once=2))
    assert [sorted(set(frame["device_id"])) for frame in frames] == [["A", "B"], ["D"]]
    assert all(list(frame) == list(INTERVALS.names()) for frame in frames)
    both = pd.concat(frames, ignore_index=True)
    expected = pd.concat([flows[name] for name in "ABD"], ignore_index=True)
    pd.testing.assert_frame_equal(both, expected, check_dtype=False)


def test_no_meter_asked_for_or_none_with_readings(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-01-01", [1, 2]))
    assert list(building_intervals(place, devices=[])) == []
    (frame,) = building_intervals(place, devices=["Z"])
    assert frame.empty


def test_a_damaged_store_is_said(kept: Callable[..., Path]) -> None:
    place = kept(intervals("A", "2025-01-01", [1, 2]))
    for part in place.rglob("intervals.parquet"):
        part.write_bytes(b"not a table")
    with pytest.raises(StoreError):
        list(building_intervals(place, devices=["A"]))
