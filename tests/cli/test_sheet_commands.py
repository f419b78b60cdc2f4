"""`district sheets` on a ladder of streets, what is to be searched typed by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from district import pipeline
from district.cli import layout, main
from tests.test_fieldwork import found_in

SCENE = {"B": (0.6, None, None), "G": (0.3, 20.0, 80.0)}


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["sheets", *[str(w) for w in words]], prog_name="district")


@pytest.fixture(autouse=True)
def _located(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    given = found_in(tmp_path)
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: given)


def test_each_job_is_listed_with_the_cautions_and_there_is_something_to_do(tmp_path: Path) -> None:
    result = run("x", "--out", tmp_path / "jobs")
    assert result.exit_code == 3, result.output
    assert "E-Z-1" in result.stdout
    assert "tell the fire service" in result.stdout
    assert sorted(p.name for p in (tmp_path / "jobs").iterdir()) == [
        "E-M1-1.csv", "E-M1-1.html", "E-Z-1.csv", "E-Z-1.html",
    ]  # fmt: skip
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_one_job_alone_and_one_that_is_none(tmp_path: Path) -> None:
    told = json.loads(run("x", "--event", "E-Z-1", "--json", "--out", tmp_path / "jobs").stdout)
    assert [j["job_id"] for j in told["jobs"]] == ["E-Z-1"]
    assert told["cautions"]
    assert told["valves"][0]["valve_id"]
    refused = run("x", "--event", "E-Z-2", "--out", tmp_path / "none")
    assert refused.exit_code == 2
    assert "the closest is E-Z-1" in refused.stderr
    assert not (tmp_path / "none").exists()


def test_nothing_looked_for_is_no_job(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    opened, balance, events, location = found_in(tmp_path)
    location = replace(
        location,
        search_sets=location.search_sets.iloc[:0],
        stretches=location.stretches.assign(in_set=False, sought_ids=""),
    )
    events = replace(events, events=pd.DataFrame(events.events.iloc[:0]))
    nothing = (opened, balance, events, location)
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: nothing)
    result = run("x", "--out", tmp_path / "none")
    assert result.exit_code == 0, result.output
    assert "no sheet was written" in result.stdout
