from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from district.cli import layout, locate_tables
from district.schema import empty
from district.schema.located import EVIDENCE
from district.schema.outputs import SEARCH_SETS, STRETCHES

NAMES = pd.Series({"A": "[bold]Upper[/bold]", "B": "Lower"})


def sought(**own: Any) -> dict[str, Any]:
    row = {
        "sought_id": "E-A", "leak": "", "cell_id": "A", "start": pd.Timestamp("2025-07-09"),
        "flow_l_s": 0.84, "flow_l_s_low": 0.61, "flow_l_s_high": 1.07, "held_share": 0.9,
        "pipes_count": 3, "set_km": 0.4, "mains_km": 1.6, "set_share": 0.25, "gap_m": 5.0,
    }  # fmt: skip
    return {**row, **own}


def sets(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*SEARCH_SETS.names()])


def told(kind: str, walk_m: float, **own: Any) -> dict[str, Any]:
    row = {
        "sought_id": "E-A", "cell_id": "A", "kind": kind, "said": f"The {kind} said so.",
        "used": True, "walk_m": walk_m, "walk_without_m": 1.0, "moved_share": 0.4,
    }  # fmt: skip
    return {**row, **own}


def evidence(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*EVIDENCE.names()])


def printed(capsys: pytest.CaptureFixture[str], table: Any) -> list[str]:
    layout.show(table)
    lines = capsys.readouterr().out.splitlines()
    assert all(line == line.rstrip() and len(line) <= layout.WIDTH for line in lines)
    return lines


def test_limits_stand_beneath_their_figure(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, locate_tables.sets_table(sets(sought()), NAMES))
    wanted = "[bold]Upper[/bold] 2025-07-09 0.84 3 0.40 1.60 25 % 90 %"
    assert any(line.split() == wanted.split() for line in lines)
    assert any(line.split() == ["0.61–1.07"] for line in lines)


def test_an_excess_has_no_date_and_one_of_two_leaks_its_name(
    capsys: pytest.CaptureFixture[str],
) -> None:
    both = sets(sought(leak="larger", cell_id="B"), sought(leak="smaller", cell_id="B"))
    lines = printed(capsys, locate_tables.sets_table(both, NAMES))
    assert any(line.startswith(" Lower, smaller of two   2025-07-09") for line in lines)
    lines = printed(capsys, locate_tables.sets_table(sets(sought(start=pd.NaT)), NAMES))
    assert any("excess" in line.split() for line in lines)


def test_each_piece_of_evidence_stands_with_the_walk_left(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rows = evidence(
        told("prior", 1234.0, moved_share=0.004),
        told("size", 1234.0, used=False),
        told("step_test", 400.0),
        told("survey", 7.0, sought_id="other"),
    )
    lines = printed(capsys, locate_tables.evidence_table(rows, sets(sought()), NAMES))
    said = [" ".join(line.split()) for line in lines[-4:-1]]
    assert said == [
        "[bold]Upper[/bold] 0.84 L/s (0.61–1.07), since 2025-07-09 1 600",
        "leaks expected The prior said so. 1 230 < 1",
        "step test The step_test said so. 400 40",
    ]
    assert locate_tables.uncounted(rows, sets(sought()), NAMES) == [
        "- [bold]Upper[/bold], size of the flow: The size said so."
    ]


def test_a_leak_taken_for_two_and_an_excess_are_called_so(
    capsys: pytest.CaptureFixture[str],
) -> None:
    both = sets(sought(leak="larger"), sought(leak="smaller", flow_l_s_low=None))
    lines = printed(capsys, locate_tables.evidence_table(empty(EVIDENCE), both, NAMES))
    assert "taken for two leaks: 0.84 L/s (0.61–1.07) and 0.840 L/s," in " ".join(lines)
    alone = sets(sought(start=pd.NaT))
    lines = printed(capsys, locate_tables.evidence_table(empty(EVIDENCE), alone, NAMES))
    assert "excess without an event" in lines[-2]


def test_the_evidence_of_the_largest_leaks_is_shown() -> None:
    many = sets(*(sought(sought_id=f"E{n}") for n in range(14)))
    assert locate_tables.first_leaks(many) == [f"E{n}" for n in range(10)]
    table = locate_tables.evidence_table(empty(EVIDENCE), many, NAMES)
    assert table.row_count == 10 + 9  # a blank line between two


@pytest.mark.parametrize(
    ("from_m", "to_m", "said"),
    [(5.2, 42.9, "5–43"), (0.4, 68.2, "all"), (0.0, 20.0, "0–20"), (None, None, "all")],
)
def test_a_piece_is_told_where_it_is_less_than_the_stretch(
    from_m: float | None, to_m: float | None, said: str
) -> None:
    row = SimpleNamespace(from_m=from_m, to_m=to_m, length_m=68.6)
    assert locate_tables.piece(row) == said


def test_stretches_stand_in_order_with_their_piece(capsys: pytest.CaptureFixture[str]) -> None:
    row = {
        "cell_id": "B", "why": "PVC of 1995", "length_m": 68.6, "in_set": True,
        "from_m": 5.2, "to_m": 42.9,
        "probability_share": 0.2, "probability_share_low": 0.05, "probability_share_high": 0.37,
        "flow_l_s": 0.9, "flow_l_s_low": 0.88, "flow_l_s_high": 0.92,
    }  # fmt: skip
    rows = [
        {**row, "stretch_id": "P2", "rank": 2},
        {**row, "stretch_id": "P1", "rank": 1},
        {**row, "stretch_id": "P3", "rank": 3, "in_set": False},
    ]
    frame = pd.DataFrame(rows, columns=[*STRETCHES.names()])
    lines = printed(capsys, locate_tables.stretches_table(frame, NAMES))
    assert [line.split()[0] for line in lines if line.startswith(" P")] == ["P1", "P2"]
    wanted = "P1 Lower PVC of 1995 69 5–43 20 0.900"
    assert any(line.split() == wanted.split() for line in lines)


def test_nothing_to_look_for_says_none(capsys: pytest.CaptureFixture[str]) -> None:
    for table in (
        locate_tables.sets_table(empty(SEARCH_SETS), NAMES),
        locate_tables.evidence_table(empty(EVIDENCE), empty(SEARCH_SETS), NAMES),
        locate_tables.stretches_table(empty(STRETCHES), NAMES),
    ):
        assert printed(capsys, table)[-2].split() == ["none"]
