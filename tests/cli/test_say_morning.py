from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest

from district.cli.layout import WIDTH
from district.cli.morning_tables import SHOWN
from district.cli.say_morning import print_morning, stale, to_act_on
from tests.render.mornings import READ, morning, no_morning


def printed(said: object, capsys: pytest.CaptureFixture[str]) -> str:
    print_morning(said, (Path("maps/morning.html"),))  # type: ignore[arg-type]
    return capsys.readouterr().out.replace("\xa0", " ")


def test_news_comes_first_then_what_to_act_on_then_what_limits_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = printed(morning(), capsys)
    marks = (
        "New since the nights to 2031-03-30:",
        "- New: New leak in zone Upper",
        "To act on, in order",
        "Limited by:",
        "licensed people",
        "maps/morning.html",
    )
    places = [out.index(m) for m in marks]
    assert places == sorted(places)
    assert all(len(line) <= WIDTH for line in out.splitlines())


def test_a_first_run_tells_each_thing_once(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(morning(first=True), capsys)
    assert "First run" in out
    assert "- New:" not in out.split("To act on")[0].replace("- New: Repair", "")
    assert "(new)" not in out


def test_of_a_first_run_what_asks_for_nothing_is_told_in_short(
    capsys: pytest.CaptureFixture[str],
) -> None:
    one = morning(first=True)
    idle = one.morning.head(1).assign(rank=None, act=False, news="new", reason="A long reason.")
    rows = pd.concat([one.morning[one.morning["rank"].notna()], *[idle] * 8], ignore_index=True)
    out = printed(replace(one, morning=rows), capsys)
    assert "Known too, and nothing to do:" in out
    assert "A long reason" not in out
    assert "... and 3 more items in alarms.csv." in out


def test_a_quiet_morning_is_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    quiet = replace(no_morning(), before=morning().before)
    out = printed(quiet, capsys)
    assert "Nothing new since the nights to 2031-03-30." in out
    assert "Nothing to act on." in out


def test_many_alarms_are_counted_not_printed(capsys: pytest.CaptureFixture[str]) -> None:
    one = morning()
    rows = pd.concat([one.morning[one.morning["act"]].head(1)] * 100, ignore_index=True)
    rows["rank"], rows["news"] = range(1, 101), "new"
    out = printed(replace(one, morning=rows), capsys)
    assert out.count(f"... and {100 - SHOWN} more") == 2
    assert len(out.splitlines()) < 120


def test_only_news_counts_where_that_is_asked_for() -> None:
    one = morning()
    standing = replace(one, morning=one.morning.assign(news="standing"))
    assert to_act_on(standing, only_new=False)
    assert not to_act_on(standing, only_new=True)
    assert to_act_on(one, only_new=True)
    assert not to_act_on(no_morning(), only_new=False)


def test_old_readings_are_told_by_the_clock_only_where_asked_for() -> None:
    one = morning()
    assert stale(one, None, now=READ + timedelta(days=900)) == ""
    assert stale(one, 2.0, now=READ + timedelta(days=1)) == ""
    assert "of 2031-04-01 00:45, 3 days old" in stale(one, 2.0, now=READ + timedelta(days=3))
