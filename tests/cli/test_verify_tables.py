from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from district.cli import layout
from district.cli.verify_tables import OUTCOME_WORDS, latest_year, print_ledger, print_verified
from district.results import Basis, Ledger
from district.schema.ledger_tables import OUTCOMES, VERIFICATIONS
from tests.render.test_ledger import made, of

ZONES = pd.DataFrame({"cell_id": ["A"], "name": ["Upper"]})


def repair(outcome: str, **more: Any) -> dict[str, Any]:
    return {
        "work": "a repair at P1 on 2025-05-14", "mended_id": "P1", "place_id": "A",
        "repaired": pd.Timestamp("2025-05-14"), "outcome": outcome, "sought_ids": "",
        "said": f"It is {outcome} in zone A.", "go_to": "", "drop_l_s": 0.5, "drop_l_s_low": 0.45,
        "drop_l_s_high": 0.55, **more,
    }  # fmt: skip


def printed(capsys: pytest.CaptureFixture[str], *rows: dict[str, Any]) -> str:
    told = of(VERIFICATIONS, *rows)
    basis = Basis(date(2025, 1, 1), date(2025, 6, 1))
    print_verified(Ledger("X", "EUR", {"A": "Upper"}, verifications=told, basis=basis), ZONES)
    return capsys.readouterr().out


def test_every_outcome_is_said_counted_and_where_to_go(capsys: Any) -> None:
    rows = [repair(name) for name in OUTCOMES]
    rows[0]["go_to"] = "Look again at and near P1."
    rows[1]["nights_more_count"] = 3
    out = printed(capsys, *rows)
    assert set(OUTCOME_WORDS) == set(OUTCOMES)
    for words in ("3 more nights", "0.45–0.55", "Upper (A). Look again at and near P1."):
        assert words in out
    assert "Crew back: 1; too early: 1; not told: 1; job closed: 1." in out
    assert "licensed people" in out
    assert all(len(line) <= layout.WIDTH for line in out.splitlines())


def test_without_a_repair_there_is_a_line_that_says_so(capsys: Any) -> None:
    assert "none" in printed(capsys)


def test_a_ledger_fits_the_width_and_names_its_files(capsys: Any) -> None:
    print_ledger(made(30), 2025, [Path("out/ledger.html"), Path("out/ledger.csv")])
    out = capsys.readouterr().out
    assert "Page to print: out/ledger.html" in out
    assert "... and 11 more leaks in ledger.csv." in out
    assert "2024" in out
    assert all(len(line) <= layout.WIDTH for line in out.splitlines())


def test_the_latest_year_is_that_of_the_last_night() -> None:
    assert latest_year(made()) == 2025
    none = Ledger("X", "EUR", {}, verifications=of(VERIFICATIONS))
    assert latest_year(none) is None
    assert latest_year(Ledger("X", "EUR", {}, none.verifications, years=made().years)) == 2025
