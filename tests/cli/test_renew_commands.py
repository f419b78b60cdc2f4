"""`district renew` on plans typed by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from district import planning
from district.cli import layout, main
from district.errors import StageError
from district.schema.renewal_tables import RENEWAL
from tests.render.made_renewal import bare, made, made_backtest


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["renew", *[str(w) for w in words]], prog_name="district")


@pytest.fixture(autouse=True)
def asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[dict[str, Any]]:
    """What the stages were asked for; they answer with plans made up. Pages go to where tests may
    write."""
    monkeypatch.chdir(tmp_path)
    said: list[dict[str, Any]] = []

    def renewed(folder: Path, **how: Any) -> Any:
        how.pop("say")("planning")
        said.append({"folder": folder, **how})
        return bare() if str(folder) == "bare" else made()

    def tested(folder: Path, *, year: int, say: Any) -> Any:
        say("testing")
        if year < 1950:
            raise StageError(f"{folder}: the record of breaks begins later.")
        return made_backtest(), made().rates

    monkeypatch.setattr(planning, "renew_folder", renewed)
    monkeypatch.setattr(planning, "backtest_folder", tested)
    return said


def test_works_to_do_are_something_to_act_on_and_pages_go_to_maps(
    tmp_path: Path, asked: list[dict[str, Any]]
) -> None:
    result = run("x")
    assert result.exit_code == 3, result.output
    assert [p.name for p in tmp_path.iterdir()] == ["maps"]
    plain = {"budget_currency": None, "year": None, "with_readings": True}
    assert asked == [{"folder": Path("x"), **plain}]
    assert run("bare").exit_code == 0
    assert all(len(line) <= layout.WIDTH + 4 for line in result.stdout.splitlines())


def test_budget_year_and_readings_reach_the_plan(asked: list[dict[str, Any]]) -> None:
    run("x", "--budget", 25000, "--year", 2030, "--without-readings")
    assert asked[0] == {
        "folder": Path("x"), "budget_currency": 25000.0, "year": 2030, "with_readings": False,
    }  # fmt: skip


def test_pages_are_written_where_asked(tmp_path: Path) -> None:
    result = run("x", "--out", tmp_path / "plan")
    assert {p.name for p in (tmp_path / "plan").iterdir()} == {
        "renewal.html", "renewal_map.html", "renewal.xlsx", "renewal.gpkg", "renewal",
    }  # fmt: skip
    assert f"{tmp_path / 'plan' / 'renewal'}/ (" in result.stdout


def test_every_table_for_machines_never_without_the_caution(tmp_path: Path) -> None:
    told = json.loads(run("x", "--json", "--out", tmp_path).stdout)
    assert {t.name for t in RENEWAL} <= {*told}
    assert "licensed people" in told["caution"]
    assert len(told["renewal_pipes"]) == 60
    assert str(tmp_path / "renewal.html") in told["files"]
    assert told["findings"][0]["sentence"].endswith("Name the pipe that broke.")
    empty = json.loads(run("bare", "--json").stdout)
    assert empty["backtest"] == empty["renewal_projects"] == []


def test_a_list_of_the_past_is_held_against_what_broke_and_nothing_else_is_said() -> None:
    result = run("x", "--backtest", 2020)
    assert result.exit_code == 0
    assert result.stdout.startswith("Breaks from 2020 on")
    assert "Breaks by tenth" in result.stdout
    assert "The list of" not in result.stdout
    told = json.loads(run("x", "--backtest", 2020, "--json").stdout)
    assert {"backtest", "backtest_curve", "deciles", "said", "basis"} <= {*told}
    assert told["year"] == 2020


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--budget", 0), "0<x<=1000000000000"),
        (("--budget", "inf"), "0<x<=1000000000000"),
        (("--budget", "nan"), "nan is no sum of money"),
        (("--year", 182), "1900<=x<=2200"),
        (("--backtest", 2020, "--budget", 5), "goes alone"),
        (("--backtest", 2020, "--without-readings"), "goes alone"),
        (("--backtest", 1920), "begins later"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(words: tuple[object, ...], said: str) -> None:
    result = run("x", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
