"""What `district watch` prints: what is new first, then what to act on, then what limits it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from district.cli import say
from district.cli.layout import print_lines, show
from district.cli.morning_tables import SHOWN, open_table
from district.results import Morning
from district.schema.event_tables import MORNING_WORDS
from district.watch import KINDS
from district.words import day, missing, moment, plural, true

_NEWS = ("new", "changed", "closed", "withdrawn")
_LIMITS = 3
_FIRST = 5
"""Of a first morning, what asks for nothing."""


def to_act_on(morning: Morning, *, only_new: bool) -> bool:
    """Whether anything asks for action; with `only_new`, anything new or changed."""
    rows = morning.morning
    act = rows["act"].map(true).astype(bool)
    return bool((act & rows["news"].isin(("new", "changed"))).any() if only_new else act.any())


def stale(morning: Morning, after_d: float | None, *, now: datetime) -> str:
    """A sentence where the newest reading is older than `after_d` days at `now`, else ''."""
    if after_d is None or morning.readings_to is None:
        return ""
    age_d = (now - morning.readings_to).total_seconds() / 86_400.0
    if age_d <= after_d:
        return ""
    newest = moment(morning.readings_to, timezone=morning.timezone)
    return (
        f"The newest reading is of {newest}, {plural(int(age_d), 'day')} old: look to what brings "
        "the files. What began since then is not seen."
    )


def print_morning(morning: Morning, paths: Sequence[Path]) -> None:
    """The whole printed output of `district watch`."""
    newest = moment(morning.readings_to, timezone=morning.timezone)
    print_lines([f"{morning.name}: readings to {newest}, nights to {day(morning.basis.last)}."])
    _print_news(morning)
    acting = morning.morning["rank"].notna()
    if acting.any():
        first = morning.before is None
        show(open_table(morning.morning, KINDS, currency=morning.currency, first=first))
        print_lines([_beyond(int(acting.sum()), "alarm", SHOWN)])
    else:
        print_lines(["Nothing to act on."])
    _print_limits(morning)
    if acting.any():
        print(say.caution())
    for path in paths:
        print(path)


def _print_news(morning: Morning) -> None:
    rows = morning.morning
    news = rows[rows["news"] != "standing"]
    first = morning.before is None
    if first:
        print_lines(["First run: nothing was told before, so all that stands open is new."])
        # What is to be acted on stands in the table below.
        news = news[news["rank"].isna()]
    if news.empty:
        if not first:
            print_lines([f"Nothing new since the nights to {day(morning.before)}."])
        return
    if first:
        # Reasons stand on the page: a first morning has much to tell.
        lines = [f"- {row.headline}" for row in news.itertuples()]
        print_lines(
            ["Known too, and nothing to do:", *lines[:_FIRST], _beyond(len(lines), "item", _FIRST)]
        )
        return
    lines = [
        f"- {MORNING_WORDS[name].capitalize()}: {row.headline}{_why(row)}"
        for name in _NEWS
        for row in news[news["news"] == name].itertuples()
    ]
    print_lines(
        [
            f"New since the nights to {day(morning.before)}:",
            *lines[:SHOWN],
            _beyond(len(lines), "item", SHOWN),
        ]
    )


def _why(row: Any) -> str:
    if missing(row.reason):
        return ""
    return f" {row.reason[:1].upper()}{row.reason[1:].rstrip('.')}."


def _beyond(count: int, noun: str, shown: int) -> str:
    return (
        f"... and {plural(count - shown, f'more {noun}')} in alarms.csv." if count > shown else ""
    )


def _print_limits(morning: Morning) -> None:
    limiting = [f.sentence() for f in morning.findings if f.severity != "note"]
    lines = [*(f"- {line}" for line in (*limiting, *morning.basis.limits))]
    if not lines:
        return
    more = len(lines) - _LIMITS
    print_lines(
        [
            "Limited by:",
            *lines[:_LIMITS],
            f"- and {more} more: see 'district check' and the page." if more > 0 else "",
        ]
    )
