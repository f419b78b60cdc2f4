"""The ledger of a year opens from disk, on a desk, on a phone and on one sheet of paper."""

from __future__ import annotations

import re

import pytest

from district.render import write_ledger
from tests.render.test_ledger import SCRIPT, made


@pytest.fixture
def ledger(opened_from, tmp_path):
    write_ledger(made(30), 2025, tmp_path)
    return opened_from(tmp_path)


def test_it_asks_nothing_of_the_network_and_shows_names_as_text(ledger):
    watched = ledger("ledger.html")
    assert watched.strangers() == []
    assert watched.complaints == []
    assert watched.page.locator("h1").inner_text() == f"Ž & {SCRIPT}: leaks of 2025"


def test_nothing_is_wider_than_a_phone(ledger):
    page = ledger("ledger.html", 390, 844).page
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_full_year_prints_on_one_sheet(ledger):
    page = ledger("ledger.html").page
    paper = page.pdf(prefer_css_page_size=True)
    # PDF 32000-1:2008, 7.7.3.3: each page is an object of that type; A4 is 595 by 842 points.
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1
    assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45]\.?\d* 84[12]", paper)
