"""`district events` and `district shutoff` on the small folder; `watch` has a file of its own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from district.cli import layout, main
from tests.watch.long_folder import make_long


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], prog_name="district")


@pytest.fixture(scope="module")
def leaking(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_long(tmp_path_factory.mktemp("long") / "long", days=54)


def test_events_prints_what_began_and_ends_with_three(leaking: Path) -> None:
    result = run("events", leaking)
    assert result.exit_code == 3, result.output
    assert result.stdout.startswith("To act on, in order")
    assert "Upper" in result.stdout
    assert "Why each is taken for that" in result.stdout
    assert "Events rest on 2025-" in result.stdout
    assert "licensed people" in result.stdout
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_events_holds_every_table_for_machines(leaking: Path) -> None:
    result = run("events", leaking, "--json")
    told = json.loads(result.stdout)
    assert {*told} == {
        "events",
        "event_causes",
        "repair_checks",
        "building_checks",
        "sensor_checks",
        "basis",
    }
    assert told["events"][0]["act"]
    shares = [c["probability_share"] for c in told["event_causes"]]
    assert sum(shares) == pytest.approx(len({c["event_id"] for c in told["event_causes"]}))


def test_where_nothing_began_events_ends_with_nought(tmp_path: Path) -> None:
    result = run("events", make_long(tmp_path / "long", days=40))
    assert result.exit_code == 0, result.output


def test_shutoff_says_who_may_decide(leaking: Path) -> None:
    result = run("shutoff", leaking)
    assert result.exit_code == 0, result.output
    assert "licensed person" in result.stdout
    assert "Local code" in json.loads(run("shutoff", leaking, "--json").stdout)["caution"]
