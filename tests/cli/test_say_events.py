from __future__ import annotations

import pytest

from district.cli import layout, say_events
from district.settings import Settings
from tests.cli.happened import ALL, BOILER, LEAK, LOOSE, NAMES, NOTHING, OVER, SHUT, ZONES, happened


def said(capsys: pytest.CaptureFixture[str]) -> str:
    out = capsys.readouterr().out
    assert all(len(line) <= layout.WIDTH for line in out.splitlines())
    return " ".join(out.split())


def test_each_event_stands_with_its_causes_and_what_speaks_for_them(
    capsys: pytest.CaptureFixture[str],
) -> None:
    say_events.print_events(ALL, ZONES, Settings())
    out = said(capsys)
    assert out.startswith("To act on, in order")
    assert (
        "Upper, since 2025-03-04 (E-A-1). Night flow of Upper (A) rose by 0.5 L/s. "
        "- leak 92 %. For it: it stayed. Against it: Lower (B) fell. - use 7 %. W1, Hall, since"
    ) in out
    assert "said of none" not in out
    assert "The others: over, explained, or the same water as one above" in out
    assert "- After a repair at P7 the night flow of Lower (B) fell. Buildings worth" in out
    assert "- Hall (M1): It runs. - M2: It shows nothing. The other meters" in out
    assert (
        "- 1 meter: flow that never stops, as long as there are readings: Boiler House (M3)" in out
    )
    assert "- W1 (wet floor, Hall), flapping. It turned wet 20 times." in out
    assert "1 alarm sensor is sound." in out
    assert "Single nights are not listed." in out
    assert "licensed people" in out


def test_nothing_that_happened_is_said_in_few_words(capsys: pytest.CaptureFixture[str]) -> None:
    say_events.print_events(NOTHING, ZONES, Settings())
    out = said(capsys)
    assert "none" in out
    for heading in ("Why each", "Nothing to do", "Repairs", "Buildings", "The other", "sensor"):
        assert heading not in out


def test_the_report_says_the_same_in_short(capsys: pytest.CaptureFixture[str]) -> None:
    say_events.print_beside(ALL, NAMES, "GBP")
    out = said(capsys)
    assert "'district events' says why each is taken for that" in out
    assert "Repairs on record" in out
    assert "Buildings worth a visit" in out
    assert "Alarm sensors not to be believed: - W1 (wet floor, Hall), flapping." in out
    assert "The others: over, explained, or the same water as one above" not in out
    say_events.print_beside(NOTHING, NAMES, "GBP")
    assert said(capsys).endswith(" none")


def test_of_many_the_first_are_printed_and_the_rest_counted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    many = happened(
        *({**LEAK, "event_id": f"E{n}", "rank": n} for n in range(12)),
        buildings=tuple({**SHUT, "device_id": f"M{n}"} for n in range(7)),
        sensors=tuple({**LOOSE, "sensor_id": f"W{n}"} for n in range(6)),
    )
    say_events.print_beside(many, NAMES, "GBP")
    out = said(capsys)
    assert "... and 2 more events in tables/events.csv." in out
    assert "... and 2 more buildings in tables/building_checks.csv." in out
    assert "... and 1 more sensor in tables/sensor_checks.csv." in out


def test_an_event_a_meter_or_a_sensor_asks_for_action() -> None:
    assert not say_events.to_act_on(NOTHING)
    assert not say_events.to_act_on(happened(OVER, buildings=(BOILER,)))
    assert say_events.to_act_on(happened(LEAK))
    assert say_events.to_act_on(happened(buildings=(SHUT,)))
    assert say_events.to_act_on(happened(sensors=(LOOSE,)))
