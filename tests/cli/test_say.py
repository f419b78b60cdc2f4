from __future__ import annotations

import json

import pandas as pd
import pytest

from district.cli import say
from district.errors import Finding


def test_findings_end_with_their_count() -> None:
    found = [Finding("error", "a.csv", got="x"), Finding("warning", "b.csv", got="y")]
    assert say.findings(found).splitlines() == [
        "error: a.csv: got x.",
        "warning: b.csv: got y.",
        "Findings: 1 error, 1 warning.",
    ]
    assert say.findings([]) == "Nothing wrong was found."


def test_records_hold_no_nan_and_iso_times() -> None:
    frame = pd.DataFrame(
        {
            "x": [1.5, float("nan")],
            "day": pd.to_datetime(["2025-03-30", None]),
            "flag": [True, False],
        }
    )
    assert say.records(frame) == [
        {"x": 1.5, "day": "2025-03-30", "flag": True},
        {"x": None, "day": None, "flag": False},
    ]
    assert json.loads(say.to_json({"rows": say.records(frame)}))["rows"][1]["x"] is None


def test_limits_stand_beneath_their_figure(capsys: pytest.CaptureFixture[str]) -> None:
    sets = pd.DataFrame(
        {
            "cell_id": ["A"],
            "flow_l_s": [0.84],
            "flow_l_s_low": [0.61],
            "flow_l_s_high": [1.07],
            "held_share": [0.9],
            "pipes_count": [3],
            "set_km": [0.4],
            "mains_km": [1.6],
            "set_share": [0.25],
            "gap_m": [5.0],
        }
    )
    say.show(say.sets_table(sets, pd.Series({"A": "[bold]Upper[/bold]"})))
    lines = capsys.readouterr().out.splitlines()
    assert any(
        line.split() == ["[bold]Upper[/bold]", "0.84", "3", "0.40", "1.60", "25%"] for line in lines
    )
    assert any(line.split() == ["0.61–1.07"] for line in lines)
    assert all(line == line.rstrip() for line in lines)


def test_both_zones_of_a_shift_are_marked() -> None:
    events = pd.DataFrame(
        {
            "kind": ["meter_or_boundary", "meter_or_boundary", "leak"],
            "state": ["open", "ended", "open"],
            "cell_id": ["A", "C", "E"],
            "other_cell_id": ["B", "D", ""],
        }
    )
    assert say.disturbed(events) == {"A", "B"}


def test_an_empty_table_says_none(capsys: pytest.CaptureFixture[str]) -> None:
    from district.schema import empty
    from district.schema.outputs import EVENTS

    say.show(say.events_table(empty(EVENTS), pd.Series(dtype=object)))
    assert capsys.readouterr().out.splitlines()[-2].split() == ["none"]
