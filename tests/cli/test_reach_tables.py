from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.cli import layout, reach_tables
from district.schema import empty
from district.schema.located import DETECTABILITY, NEXT_DEVICES, ZONE_REACH

NAMES = pd.Series({"A": "Upper"})


def reach(cell_id: str, leak_l_s: float, walk: float) -> dict[str, Any]:
    return {
        "cell_id": cell_id, "leak_l_s": leak_l_s, "shown_share": 1.0,
        "walk_share": walk, "walk_share_low": walk - 0.05, "walk_share_high": walk + 0.05,
    }  # fmt: skip


def pipe(cell_id: str, smallest: float, shown_by: str) -> dict[str, Any]:
    return {
        "cell_id": cell_id, "smallest_l_s": smallest, "smallest_l_s_low": smallest * 0.8,
        "smallest_l_s_high": smallest * 1.2, "shown_by": shown_by,
    }  # fmt: skip


def printed(capsys: pytest.CaptureFixture[str], table: Any) -> list[list[str]]:
    layout.show(table)
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) <= layout.WIDTH for line in lines)
    return [line.split() for line in lines]


def test_a_zone_stands_with_the_leak_that_shows_wherever_it_is(
    capsys: pytest.CaptureFixture[str],
) -> None:
    walks = [reach("A", 1.0, 0.2), reach("A", 0.2, 0.3), reach("B", 0.2, 0.5)]
    pipes = [
        pipe("A", 0.1, "pressure"), pipe("A", 0.2, "inflow"), pipe("A", 0.2, "inflow"),
        pipe("B", float("nan"), ""),
    ]  # fmt: skip
    table = reach_tables.reach_table(
        pd.DataFrame(walks, columns=[*ZONE_REACH.names()]),
        pd.DataFrame(pipes, columns=[*DETECTABILITY.names()]),
        NAMES,
    )
    lines = printed(capsys, table)
    heading = next(line for line in lines if line[:1] == ["Zone"])
    assert heading == ["Zone", "Shown", "by", "L/s", "%", "%"]
    wanted = "Upper inflow 67 %, pressure 33 % 0.20 30 20"
    assert wanted.split() in lines
    assert ["0.16–0.24", "25–35", "15–25"] in lines
    assert ["B", "nothing", "-", "50", "-"] in lines


def test_devices_stand_best_first_with_the_second_pipe(capsys: pytest.CaptureFixture[str]) -> None:
    row = {
        "cell_id": "A", "pipe_id": "P1", "pipe_2_id": "",
        "walk_before_m": 870, "walk_before_m_low": 710, "walk_before_m_high": 1060,
        "walk_after_m": 690, "walk_after_m_low": 550, "walk_after_m_high": 850,
        "gain_share": 0.21,
    }  # fmt: skip
    rows = [
        {**row, "rank": 2, "kind": "zone_meter", "pipe_2_id": "P9"},
        {**row, "rank": 1, "kind": "pressure_logger"},
    ]
    frame = pd.DataFrame(rows, columns=[*NEXT_DEVICES.names()])
    lines = printed(capsys, reach_tables.next_table(frame, NAMES))
    best = "pressure logger P1 Upper 870 690 21"
    next_best = "zone meter P1, with P9 metered or shut Upper 870 690 21"
    assert lines.index(best.split()) < lines.index(next_best.split())


def test_nothing_ahead_says_none(capsys: pytest.CaptureFixture[str]) -> None:
    nothing = reach_tables.reach_table(empty(ZONE_REACH), empty(DETECTABILITY), NAMES)
    assert printed(capsys, nothing)[-2] == ["none"]
    assert printed(capsys, reach_tables.next_table(empty(NEXT_DEVICES), NAMES))[-2] == ["none"]
