"""Tables of a planned step test, and of one that was read."""

from __future__ import annotations

import pytest

from district.cli.layout import WIDTH
from district.cli.step_tables import print_step_test, result_table, section_table, turn_table
from tests.cli.stepped import stepped
from tests.cli.test_valve_tables import text

FOUND = stepped()


def test_turns_come_in_order_of_time() -> None:
    shown = text(turn_table(FOUND.plan.plan))
    times = [line.split()[1] for line in shown.splitlines() if ":" in line]
    assert times == sorted(times)
    assert times[0] == "01:30"
    for word in ("shut, read", "open", "Section"):
        assert word in shown


def test_sections_say_what_falls_if_the_leak_is_there_and_if_not() -> None:
    shown = text(section_table(FOUND.plan.sections))
    assert "stays open" in shown
    assert "leak" in shown
    assert len([s for s in shown.splitlines() if s.lstrip().startswith(("1 ", "2 "))]) >= 2


def test_what_was_read_stands_beside_use_length_and_properties() -> None:
    shown = text(result_table(FOUND.results))
    assert "Step test ST-1 of 2025-10-17" in shown
    assert "1, V9" in shown
    assert "left open" in shown
    assert "4 300" in shown.replace("\xa0", " ")


def test_the_whole_print_has_caution_plan_and_results(capsys: pytest.CaptureFixture[str]) -> None:
    print_step_test(FOUND)
    shown = capsys.readouterr().out
    assert shown.startswith("A step test takes water from people")
    for said in ("In this order", "What each step should show", "To tell beforehand",
                 "H3", "Step test ST-1", "Section 1 took most.", "Expected use"):  # fmt: skip
        assert said in shown
    assert all(len(line) <= WIDTH for line in shown.splitlines())
    print_step_test(stepped(read=False))
    assert "Step test ST-1" not in capsys.readouterr().out
