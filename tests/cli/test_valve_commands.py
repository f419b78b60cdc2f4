"""`district isolate` on the sample's layers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from district.cli import layout, main

SAMPLE = Path(__file__).parents[2] / "sample_network"


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["isolate", *[str(w) for w in words]], prog_name="district")


def test_a_plan_says_caution_order_and_who_is_dry() -> None:
    result = run(SAMPLE, "--pipe", "P0256")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("Shutting valves takes water from people")
    for said in ("shut in this order", "Without water", "Pressure left", "does not close"):
        assert said in result.stdout
    assert "fire hydrants short of water" in result.stdout
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_critical_users_are_named_before_anything_is_turned() -> None:
    shown = run(SAMPLE, "--pipe", "P0030").stdout
    assert "To settle before a valve is turned" in shown
    assert shown.index("To settle") < shown.index("Pressure left")


def test_without_a_target_the_whole_map_is_judged() -> None:
    result = run(SAMPLE)
    assert result.exit_code == 0, result.output
    for said in ("segments, the worst first", "failure hurts most", "One more valve"):
        assert said in result.stdout
    assert "licensed people" in result.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("--pipe", "P9999"),
        ("--stuck", "V101"),
        ("--at", 0, 0),
        ("--connection", "S9999"),
        ("--event", "E-1", "--pipe", "P0256"),
    ],
)
def test_a_target_that_is_none_ends_with_two_and_a_sentence(words: tuple[str, ...]) -> None:
    result = run(SAMPLE, *words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "expected" in result.stderr


def test_all_tables_for_machines() -> None:
    plan = json.loads(run(SAMPLE, "--pipe", "P0256", "--json").stdout)
    assert {"valves", "areas", "users", "failures", "pressures", "caution"} <= {*plan}
    assert plan["valves"][0]["rank"] == 1
    valves = json.loads(run(SAMPLE, "--json").stdout)
    assert {"segments", "segment_losses", "valve_losses", "new_valves", "findings"} <= {*valves}


def test_a_building_tells_whom_a_leak_there_reaches() -> None:
    shown = run(SAMPLE, "--building", "Quern House").stdout
    assert "Whom a leak there may reach" in shown
    assert "licensed person has cut the current" in " ".join(shown.split())
    plan = json.loads(run(SAMPLE, "--building", "Quern House", "--json").stdout)
    assert plan["cascade"][0]["leaks"]
    assert plan["cascade_caution"]
