from __future__ import annotations

import json

import pandas as pd
import pytest

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


@pytest.mark.parametrize("at_once", [1, 2, 3, 100])
def test_a_table_in_pieces_is_the_text_of_the_whole(
    monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr(machine, "_ROWS_AT_ONCE", at_once)
    frame = pd.DataFrame({"name": ['a "b"\n', "]", "ä"], "x": [1.5, None, -2.0]})
    thing = {"rows": frame, "none": frame[:0], "basis": {"meters": ("M", "N"), "said": []}}
    plain = {**thing, "rows": machine.records(frame), "none": []}
    assert machine.to_json(thing) == json.dumps(plain, indent=1)
    assert machine.to_json({}) == json.dumps({}, indent=1)
