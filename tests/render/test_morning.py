"""The morning page: what it says, in which order, and that it needs nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pandas as pd

from district.render.morning import NEWS, OPEN, morning_page
from tests.render.mornings import SCRIPT, morning, no_morning


class Words(HTMLParser):
    """The text of a page, what it would load, and tags that were never closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.loads: list[str] = []
        self.open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "br", "img"):
            self.open.append(tag)
        self.loads += [v or "" for k, v in attrs if k in ("src", "href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.said.append(data)


def test_the_page_says_what_is_new_then_what_to_act_on_then_what_it_rests_on() -> None:
    page = Words(morning_page(morning()))
    said = " ".join(page.said)
    headings = ["New and changed", "To act on, in order", "Repairs checked",
                "Buildings where water never stops", "What cannot be relied on",
                "Findings in the data", "What this rests on"]  # fmt: skip
    places = [said.index(h) for h in headings]
    assert places == sorted(places)
    assert page.open == []
    assert "4 things" in said
    assert "not told with the nights to 2031-03-30" in said
    assert "The test is set so." in said
    assert "Thin." in said
    assert "worked in part" in said
    assert "As much as a running toilet." in said
    assert "goes on and off" in said


def test_it_warns_before_anyone_acts() -> None:
    said = " ".join(Words(morning_page(morning())).said)
    assert "licensed people" in said
    assert "live electricity" in said
    assert said.index("Before anyone acts") < said.index("To act on, in order")


def test_it_opens_without_a_network_and_runs_nothing() -> None:
    page = morning_page(morning())
    assert SCRIPT not in page
    assert "<script" not in page
    assert "\x07" not in page
    assert set(Words(page).loads) <= {
        "#findings", "alarms.csv", "alarms.json", "alarms.atom"}  # fmt: skip
    assert "default-src 'none'" in page
    assert not re.search(r"url\(|@import|https?:", page.split("</style>")[0].split("<style>")[1])


def test_a_quiet_first_morning_says_so() -> None:
    said = " ".join(Words(morning_page(no_morning())).said)
    assert "First run" in said
    for words in ("Nothing new.", "Nothing now.", "No repair is on record", "None was found."):
        assert words in said


def test_rows_are_bounded_and_the_rest_is_counted() -> None:
    one = morning()
    many = pd.concat([one.morning[one.morning["act"]].head(1)] * 1000, ignore_index=True)
    many["rank"], many["news"] = range(1, 1001), "new"
    page = morning_page(replace(one, morning=many))
    assert page.count('<li class="act">') == NEWS + OPEN
    assert " ".join(Words(page).said).count(f"{1000 - OPEN} more") == 2
    assert len(page) < 200_000
