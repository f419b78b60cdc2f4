from __future__ import annotations

import re

import pytest


def test_it_opens_from_disk_asking_nothing_of_the_network(opened):
    watched = opened("index.html")
    assert watched.strangers() == []
    assert watched.complaints == []
    assert watched.page.locator("figure img").count() == 5
    for image in watched.page.locator("figure img").all():
        assert image.evaluate("i => i.complete && i.naturalWidth > 100")


def test_names_come_out_as_text(opened):
    page = opened("index.html").page
    heading = page.locator("h1").inner_text()
    assert heading == "Lindental & <script>alert(1)</script>: how much leaks, where, and since when"
    assert page.locator("script").count() == 0


def test_the_first_screen_answers(opened):
    page = opened("index.html").page
    for card in page.locator(".answers > div").all():
        box = card.bounding_box()
        assert box["y"] + box["height"] < 800


def test_the_map_is_a_click_away(opened):
    page = opened("index.html").page
    page.get_by_text("Open the map").click()
    page.wait_for_selector(".leaflet-pipes-pane path", state="attached")
    page.get_by_text("Report", exact=True).click()
    assert page.url.endswith("/index.html")


@pytest.mark.parametrize("size", [(390, 844), (320, 568)])
def test_it_fits_a_phone(opened, size):
    page = opened("index.html", *size).page
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    wide = page.evaluate(
        "[...document.querySelectorAll('.box')].some(b => b.scrollWidth > b.clientWidth)"
    )
    assert wide, "a wide table scrolls in its own box"


def test_details_unfold(opened):
    page = opened("index.html").page
    page.get_by_text("40 places").click()
    assert page.get_by_text("row 39, column value").is_visible()


def test_evidence_unfolds_and_fits_a_phone(opened):
    page = opened("index.html", 390, 844).page
    unused = page.get_by_text("1 piece of evidence that did not count").first
    unused.click()
    assert page.get_by_text("Its size tells nothing.").is_visible()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_it_prints_on_a4_without_cutting_tables(opened):
    page = opened("index.html", 703, 1000).page  # A4 less its margins, at 96 dots an inch
    page.emulate_media(media="print")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.emulate_media(media=None)
    printed = page.pdf(prefer_css_page_size=True)
    assert printed.startswith(b"%PDF")
    sheets = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed))
    assert {(round(float(w)), round(float(h))) for w, h in sheets} == {(595, 842)}


def test_events_unfold_what_speaks_for_them(opened):
    page = opened("index.html").page
    page.get_by_text("What speaks for it and against").first.click()
    assert page.get_by_text("All but ruled out: meter at fault, no leak.").is_visible()


def test_the_caution_of_valves_is_seen_without_a_click(opened):
    page = opened("index.html", 390, 844).page
    assert page.get_by_text("Never on a pipe that feeds fire hoses").is_visible()
    chart = page.locator("#shutoff ~ section figure img").first
    assert chart.get_attribute("alt").startswith("Trade-off for Hall <script>alert(1)</script>")
