from __future__ import annotations

import pandas as pd
import pytest

from district.cli import tables
from district.schema import empty
from district.schema.outputs import EVENTS


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
    tables.show(tables.sets_table(sets, pd.Series({"A": "[bold]Upper[/bold]"})))
    lines = capsys.readouterr().out.splitlines()
    assert any(
        line.split() == ["[bold]Upper[/bold]", "0.84", "3", "0.40", "1.60", "25", "%", "90", "%"]
        for line in lines
    )
    assert any(line.split() == ["0.61–1.07"] for line in lines)
    assert all(line == line.rstrip() for line in lines)


def test_an_empty_table_says_none(capsys: pytest.CaptureFixture[str]) -> None:

    tables.show(tables.events_table(empty(EVENTS), pd.Series(dtype=object)))
    assert capsys.readouterr().out.splitlines()[-2].split() == ["none"]
