from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.cli import audit_tables, layout
from district.errors import InputError
from district.schema import empty
from district.schema.audited import AUDIT, IMPROVEMENTS

NAMES = pd.Series({"A": "Upper"})
NAN = float("nan")
LEAST = 0.004


def row(
    rank: int, name: str = "", share: float = NAN, value: float = 1.0, half: float = 0.1
) -> dict[str, Any]:
    return {
        "cell_id": "A", "figure": "daily leakage", "rank": rank, "input": name,
        "kind": "measured" if rank else "figure", "operation": "" if rank > 1 else "+",
        "value": value, "value_low": value - half, "value_high": value + half, "unit": "m³/day",
        "lowers": half, "raises": half, "variance_share": share,
        "formula": "" if rank else "night leakage times factor",
        "source": "readings" if rank else "",
    }  # fmt: skip


@pytest.fixture
def audit() -> pd.DataFrame:
    rows = [
        row(0, value=117, half=7),
        row(1, "night leakage"),
        row(2, "meter M1", 0.7),
        row(3, "meter M2", 0.296),
        row(4, "[b]scatter", LEAST),
    ]
    whole = [{**r, "cell_id": "district", "figure": "non-revenue share"} for r in rows[:2]]
    whole[0].update(value=0.227, value_low=0.22, value_high=0.234, unit="")
    return pd.DataFrame([*whole, *rows], columns=[*AUDIT.names()])


def printed(capsys: pytest.CaptureFixture[str], table: Any) -> list[str]:
    layout.show(table)
    return [line.strip() for line in capsys.readouterr().out.splitlines() if line.strip()]


def test_a_figure_stands_over_its_inputs(
    audit: pd.DataFrame, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = printed(capsys, audit_tables.audit_table(audit, "A", "Upper"))
    words = [line.split() for line in lines]
    assert lines[0].startswith("Every figure of Upper")
    assert ["daily", "leakage", "117", "m³/day", "night", "leakage", "times", "factor"] in words
    assert ["+", "night", "leakage", "1.00", "m³/day", "measured", "readings"] in words
    assert ["meter", "M1", "1.00", "m³/day", "measured", "70", "readings"] in words
    assert words[-1] == ["1", "other,", "of", "less", "<", "1"]
    assert not any("scatter" in line for line in lines)


def test_what_enters_the_sum_is_shown_so_that_the_rows_add_up(
    audit: pd.DataFrame, capsys: pytest.CaptureFixture[str]
) -> None:
    summed = audit.assign(operation=audit["operation"].where(audit["rank"] != 4, "-"))
    lines = printed(capsys, audit_tables.audit_table(summed, "A", "Upper"))
    assert any(line.startswith("- [b]scatter") and "< 1" in line for line in lines)


def test_of_few_inputs_none_is_left_out(
    audit: pd.DataFrame, capsys: pytest.CaptureFixture[str]
) -> None:
    few = audit[~audit["input"].str.startswith("meter")]
    lines = printed(capsys, audit_tables.audit_table(few, "A", "Upper"))
    assert any(line.startswith("[b]scatter") and "< 1" in line for line in lines)
    assert not any("other" in line for line in lines)


def test_a_share_is_shown_in_per_cent(
    audit: pd.DataFrame, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = printed(capsys, audit_tables.audit_table(audit, "district", "the district"))
    assert any(line.startswith("non-revenue share") and "22.7 %" in line for line in lines)


def test_what_to_measure_better_names_three_inputs_a_place(
    audit: pd.DataFrame, capsys: pytest.CaptureFixture[str]
) -> None:
    better = pd.DataFrame(
        [
            {
                "cell_id": "A", "figure": "daily leakage", "rank": n, "input": f"input {n}",
                "kind": "from the map", "variance_share": share, "narrower_share": share / 2,
            }
            for n, share in enumerate((0.6, 0.3, 0.08, 0.015), start=1)
        ],
        columns=[*IMPROVEMENTS.names()],
    )  # fmt: skip
    lines = printed(capsys, audit_tables.improvements_table(better, audit, NAMES))
    assert "Upper, daily leakage: 117 m³/day (110 to 124)" in lines
    assert [line.split() for line in lines[-3:]] == [
        ["input", "1", "from", "the", "map", "60", "30"],
        ["input", "2", "from", "the", "map", "30", "15"],
        ["input", "3", "from", "the", "map", "8", "4"],
    ]
    none = audit_tables.improvements_table(empty(IMPROVEMENTS), empty(AUDIT), NAMES)
    assert printed(capsys, none)[-1] == "none"


@pytest.mark.parametrize("wanted", ["A", "a", "upper", "Upper"])
def test_a_place_goes_by_id_or_name(audit: pd.DataFrame, wanted: str) -> None:
    assert audit_tables.place(audit, NAMES, wanted) == ("A", "Upper")


def test_an_unknown_place_is_told_with_those_there_are(audit: pd.DataFrame) -> None:
    with pytest.raises(InputError) as caught:
        audit_tables.place(audit, NAMES, "Uper")
    assert caught.value.lines() == (
        '--zone: got "Uper" (the closest is Upper), expected one of district, A. '
        "Give the id or the name of a zone, or 'district' for the whole.",
    )
