"""`district step-test`: what is typed, printed and refused."""

from __future__ import annotations

import json
from datetime import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from district import fieldwork
from district.cli import main
from district.errors import StageError
from tests.cli.stepped import stepped

Asked = dict[str, Any]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> Asked:
    """What the command asks of the pipeline, which answers with a made test."""
    got: Asked = {}

    def folder(path: Path, **how: Any) -> object:
        got.update(how, folder=path)
        return stepped()

    monkeypatch.setattr(fieldwork, "step_test_folder", folder)
    return got


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["step-test", *words], prog_name="district")


def test_it_plans_four_steps_in_the_small_hours(asked: Asked) -> None:
    result = run("here", "--zone", "V3")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("A step test takes water")
    assert (asked["zone"], asked["steps_count"]) == ("V3", 4)
    assert (asked["begins"], asked["ends"]) == (time(1, 30), time(4, 30))
    assert run("here", "--zone", "V3", "--steps", "6", "--from", "00:30", "--to", "05:00").output
    assert (asked["steps_count"], asked["begins"], asked["ends"]) == (6, time(0, 30), time(5))


@pytest.mark.usefixtures("asked")
def test_all_tables_for_machines() -> None:
    told = json.loads(run("here", "--zone", "V3", "--json").stdout)
    assert {"plan", "sections", "pipes", "users", "results", "caution", "rests_on"} <= {*told}
    assert told["plan"][0]["rank"] == 1
    assert told["sections"][-1]["section_id"] == "0"
    assert told["results"][0]["beyond_l_s"] == 0.5
    assert len(told["walk_after_m"]) == 3


def test_what_cannot_be_planned_ends_with_two_and_a_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise StageError("zone V3: no open valve that turns parts it. Check the valves.")

    monkeypatch.setattr(fieldwork, "step_test_folder", refuse)
    result = run("here", "--zone", "V3")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Check the valves" in result.stderr


@pytest.mark.parametrize(
    "words", [(), ("--zone", "A", "--steps", "0"), ("--zone", "A", "--to", "x")]
)
def test_what_is_typed_wrong_is_refused(words: tuple[str, ...]) -> None:
    assert run("here", *words).exit_code == 2


@pytest.mark.usefixtures("asked")
def test_its_sheet_and_form_are_written_where_asked(tmp_path: Path) -> None:
    result = run("here", "--zone", "V3", "--out", str(tmp_path / "van"))
    assert result.exit_code == 0, result.output
    names = sorted(p.name for p in (tmp_path / "van").iterdir())
    assert names == ["ST-supply_S-2025-12-31.csv", "ST-supply_S-2025-12-31.html"]
    assert "Written:" in result.stdout
