from __future__ import annotations

import json

import pandas as pd

from district.cli import machine


def test_records_hold_no_nan_and_iso_times() -> None:
    frame = pd.DataFrame(
        {
            "x": [1.5, float("nan")],
            "day": pd.to_datetime(["2025-03-30", None]),
            "flag": [True, False],
        }
    )
    assert machine.records(frame) == [
        {"x": 1.5, "day": "2025-03-30", "flag": True},
        {"x": None, "day": None, "flag": False},
    ]
    assert json.loads(machine.to_json({"rows": machine.records(frame)}))["rows"][1]["x"] is None


def test_an_instant_at_midnight_keeps_its_time() -> None:
    frame = pd.DataFrame({"first_utc": pd.to_datetime(["2025-03-30"], utc=True)})
    assert machine.records(frame) == [{"first_utc": "2025-03-30T00:00:00+00:00"}]
