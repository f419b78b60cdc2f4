"""The plan of renewal opens from disk, on a desk and on a phone: page and map."""

from __future__ import annotations

import re

import pytest

from district.render import write_renewal
from tests.render.made_renewal import SCRIPT, bare, made

TOUCH = ".leaflet-pipes-pane path.leaflet-interactive"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("renewal")
    write_renewal(made(), out)
    write_renewal(bare(), out / "bare")
    return out


@pytest.fixture
def plan(opened_from, written):
    return opened_from(written)


def popup(page):
    page.wait_for_selector(".leaflet-popup-content .card")
    page.wait_for_timeout(400)  # the map slides until the popup is in view
    return page.locator(".leaflet-popup-content")


@pytest.mark.parametrize("name", ["renewal.html", "bare/renewal.html"])
def test_the_page_asks_nothing_and_shows_names_as_text(plan, name):
    watched = plan(name)
    assert watched.strangers() == []
    assert watched.complaints == []
    assert watched.page.locator("h1").inner_text() == f"Lindental & {SCRIPT}: which pipes to renew"
    assert watched.page.locator("script").count() == 0


def test_charts_are_drawn_and_told_in_words(plan):
    page = plan("renewal.html").page
    charts = page.locator("figure img")
    assert charts.count() == 4
    for n in range(4):
        assert charts.nth(n).evaluate("i => i.complete && i.naturalWidth > 100")
        assert len(charts.nth(n).get_attribute("alt")) > 40


@pytest.mark.parametrize("name", ["renewal.html", "renewal_map.html", "bare/renewal.html"])
def test_nothing_is_wider_than_a_phone_and_tables_scroll_within(plan, name):
    page = plan(name, 390, 844).page
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    wide = page.evaluate(
        "[...document.querySelectorAll('.box')].filter(b => b.scrollWidth > b.clientWidth)"
        ".every(b => getComputedStyle(b).overflowX === 'auto')"
    )
    assert wide


def test_the_reason_of_works_stays_in_view_while_a_table_scrolls(plan):
    page = plan("renewal.html", 390, 844).page
    box = page.locator("table.works").first.locator("..")
    box.evaluate("b => b.scrollTo(200, 0)")
    place = page.locator("tr.under span").first.bounding_box()
    assert place["x"] >= 0
    assert place["x"] + place["width"] <= 390


def test_it_prints_on_a_few_sheets_of_paper(plan):
    paper = plan("renewal.html").page.pdf(prefer_css_page_size=True)
    # PDF 32000-1:2008, 7.7.3.3: each page is an object of that type; A4 is 595 by 842 points.
    assert 3 <= len(re.findall(rb"/Type\s*/Page\b", paper)) <= 6
    assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45]\.?\d* 84[12]", paper)
    assert plan("renewal_map.html").page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


def test_the_map_tells_all_inputs_of_a_pipe_as_text(plan):
    watched = plan("renewal_map.html")
    page = watched.page
    page.wait_for_selector(TOUCH, state="attached")
    assert page.locator(TOUCH).count() == 60
    page.locator(TOUCH).nth(7).click()
    body = popup(page)
    assert body.locator("h3").inner_text() == f'Pipe P7/{SCRIPT}"&'
    assert body.locator("h4").all_inner_texts() == [
        "What renewal saves", "How it breaks", "What a break costs", "Leakage hidden on it",
        "The pipe",
    ]  # fmt: skip
    said = body.inner_text().replace("\u00a0", " ")
    assert f"Upper {SCRIPT}" in said
    assert "3.1 % (1.9 to 4.3) a year" in said
    assert body.locator("dt").count() == body.locator("dd").count() >= 30
    assert watched.strangers() == []
    assert watched.complaints == []


def test_risk_is_drawn_instead_of_rates_and_the_list_on_both(plan):
    watched = plan("renewal_map.html")
    page = watched.page
    rates = page.get_by_text("Breaks expected a year by 100 km")
    line = page.locator(".leaflet-pipes-pane path[class*=pipe-]").first
    assert rates.is_visible()
    assert page.locator(".leaflet-casings-pane path").count() == 48
    labels = page.locator(".zone-label").all_text_contents()
    assert labels == [str(n) for n in range(1, 9)]
    page.get_by_label("Cost of breaks by metre").check()
    assert page.locator(".ahead-risk").count() == 60
    assert not rates.is_visible()
    assert page.get_by_text("Cost of breaks a year by metre, EUR").is_visible()
    assert line.evaluate("l => getComputedStyle(l).visibility") == "hidden"
    casing = page.locator(".leaflet-casings-pane path").first
    assert casing.evaluate("l => getComputedStyle(l).visibility") == "visible"
    page.get_by_label("The list").uncheck()
    assert page.locator(".leaflet-casings-pane path").count() == 0
    assert watched.complaints == []


def test_a_finger_finds_a_pipe_on_a_phone(plan):
    watched = plan("renewal_map.html", 390, 844)
    page = watched.page
    page.locator(TOUCH).nth(20).tap()
    box = popup(page).bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    page.locator(".leaflet-control-layers-toggle").tap()
    assert page.get_by_label("The list").is_visible()
    assert watched.complaints == []
