"""The morning page opens from disk, on a desk and on a phone."""

from __future__ import annotations

import pytest


def test_it_opens_from_disk_asking_nothing_of_the_network(opened):
    watched = opened("morning.html")
    assert watched.strangers() == []
    assert watched.complaints == []
    assert watched.page.locator("script").count() == 0


def test_names_come_out_as_text(opened):
    page = opened("morning.html").page
    assert page.locator("h1").inner_text() == "Ž & <script>alert(1)</script>: this morning"


@pytest.mark.parametrize("width", [390, 320])
def test_nothing_is_wider_than_a_phone(opened, width):
    watched = opened("morning.html", width, 844)
    page = watched.page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    outside = page.evaluate(
        """[...document.querySelectorAll('body *')].filter(e => !e.closest('.box')
        && e.getBoundingClientRect().right > window.innerWidth).map(e => e.tagName)"""
    )
    assert outside == []
    assert watched.complaints == []


def test_what_is_new_stands_on_the_first_screen(opened):
    page = opened("morning.html").page
    for card in page.locator(".answers > div").all():
        box = card.bounding_box()
        assert box["y"] + box["height"] < 800
    assert page.get_by_text("Before anyone acts.").bounding_box()["y"] < 800


def test_it_prints_on_a4(opened):
    page = opened("morning.html", 703, 1000).page  # A4 less its margins, at 96 dots an inch
    page.emulate_media(media="print")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
