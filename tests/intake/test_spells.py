from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.intake.parse import ReadingFile
from district.intake.spells import quality_of, source_of, spells_frame, whole_records
from district.schema.kept import SPELLS
from district.schema.stored import DEVICE_QUALITY
from district.settings import Readings


def part(first_us: int, **more: Any) -> dict[str, Any]:
    return {
        "device_id": "M", "kind": "register", "file": "a.csv", "pattern": "a*",
        "first_us": first_us, "last_us": first_us + 10, "step_h": 1.0, "steps_count": 10,
        "readings_count": 11, "expected_count": 12, "missing_count": 2, "entries_count": 10,
        "spike_count": 1, "resolution_m3": 0.01, "broken": np.nan, "meant_s": 3600.0, **more,
    }  # fmt: skip


def frame(*parts: dict[str, Any]) -> pd.DataFrame:
    return spells_frame(pd.DataFrame(parts).to_dict("series"))


def test_parts_are_added_up() -> None:
    made = frame(part(0), part(100, step_h=0.25, steps_count=40, resolution_m3=0.001))
    assert list(made) == list(SPELLS.names())
    (row,) = whole_records(made).itertuples(index=False)
    assert (row.readings_count, row.missing_count, row.step_h) == (22, 4, 0.25)
    assert row.resolution_m3 == 0.001
    assert row.source == "a.csv"
    quality = quality_of(whole_records(made))
    assert list(quality) == list(DEVICE_QUALITY.names())
    # By hand: 4 of 24 expected, 2 spikes of 20.
    assert quality["missing_share"].tolist() == [4 / 24]
    assert quality["unusable_share"].tolist() == [2 / 20]
    assert (quality["last_utc"] - quality["first_utc"]).dt.total_seconds().tolist() == [110e-6]


def test_several_files_are_named_by_their_patterns() -> None:
    one = part(0)
    for others, source in (
        ([part(9, file="b.csv")], "a*"),
        ([part(9, file="b.csv", pattern="b*")], "a* and b*"),
        ([part(9, file="", pattern="b* and c*")], "a* and b* and c*"),
    ):
        assert whole_records(frame(one, *others))["source"].tolist() == [source]
    files = [ReadingFile(Path(n), n, Readings(files="z*"), "UTC") for n in ("z1", "z2")]
    assert source_of(files, np.array([1])) == ("z2", "z*")
    assert source_of(files, np.array([0, 1])) == ("", "z*")


def test_nothing_read_is_an_empty_table() -> None:
    nothing = whole_records(frame(part(0)).iloc[:0])
    assert list(quality_of(nothing)) == list(DEVICE_QUALITY.names())
