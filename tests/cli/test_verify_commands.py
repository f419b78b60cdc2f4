"""`district verify` and `district ledger`: what they hand on, print, write and end with."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from district import pipeline
from district.cli import main
from district.schema.ledger_tables import VERIFICATIONS
from tests.cli.test_verify_tables import repair
from tests.render.test_ledger import made, of

FOUND = made()


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], prog_name="district")


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """The pipeline's answers typed by hand; what it was asked."""
    asked: list[Any] = []

    class Balance:
        zones = pd.DataFrame({"cell_id": ["A"], "name": ["Upper"]})

    def verify(_: Path, *, since: date | None, **_how: Any) -> tuple[Any, Any, Any]:
        asked.append(since)
        outcome = "crew_back" if since is None else "closed"
        rows = of(VERIFICATIONS, repair(outcome))
        return None, Balance, replace(FOUND, verifications=rows)

    monkeypatch.setattr(pipeline, "verify_folder", verify)
    monkeypatch.setattr(pipeline, "ledger_folder", lambda *_, **__: (None, Balance, FOUND))
    return asked


def test_verify_ends_with_three_while_a_crew_must_go_back(told: list[Any]) -> None:
    result = run("verify", "folder")
    assert result.exit_code == 3, result.output
    assert "crew back" in result.stdout
    later = run("verify", "folder", "--since", "2025-05-01", "--json")
    assert later.exit_code == 0, later.output
    assert told == [None, date(2025, 5, 1)]
    object_ = json.loads(later.stdout)
    assert object_["verifications"][0]["outcome"] == "closed"
    assert "licensed people" in object_["caution"]


def test_a_date_that_is_none_is_refused(told: list[Any]) -> None:
    result = run("verify", "folder", "--since", "May")
    assert result.exit_code == 2
    assert told == []


@pytest.mark.usefixtures("told")
def test_ledger_prints_the_latest_year_and_writes_it(tmp_path: Path) -> None:
    result = run("ledger", "folder", "--out", tmp_path)
    assert result.exit_code == 0, result.output
    assert "leaks of 2025" in result.stdout
    assert (tmp_path / "ledger.html").exists()
    object_ = json.loads(run("ledger", "f", "--year", 2024, "--out", tmp_path, "--json").stdout)
    assert object_["year"] == 2024
    assert {"leaks", "years", "groups", "verifications", "basis", "files"} <= {*object_}


@pytest.mark.usefixtures("told")
def test_a_year_that_is_not_known_ends_with_two(tmp_path: Path) -> None:
    result = run("ledger", "folder", "--year", 1950, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "known: 2025, 2024" in result.stderr
    assert not (tmp_path / "out").exists()
