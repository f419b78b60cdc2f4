"""A field sheet opens from disk, on a phone and on one side of A4."""

from __future__ import annotations

import re
from datetime import date

import pandas as pd
import pytest

from district.render import write_sheets
from tests.render.sheets import SCRIPT, job, map_of_job
from tests.render.test_step_sheet import MADE, written


@pytest.fixture
def sheet(opened_from, tmp_path):
    jobs = [job(40, indoors=True), job(1, name=SCRIPT)]
    told = {"district": "Quernhollow", "currency": "GBP", "last": date(2025, 6, 30)}
    written = write_sheets(jobs, map_of_job(), tmp_path, **told)
    return opened_from(tmp_path), [p.name for p in written if p.suffix == ".html"]


def test_it_asks_nothing_of_the_network_and_shows_names_as_text(sheet):
    open_page, names = sheet
    for name in names:
        watched = open_page(name)
        assert watched.strangers() == []
        assert watched.complaints == []
    assert SCRIPT in watched.page.locator("h1").inner_text()


def test_nothing_is_wider_than_a_phone(sheet):
    open_page, names = sheet
    for name in names:
        page = open_page(name, 390, 844).page
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_an_id_stays_in_one_piece_on_a_phone(sheet):
    """A pipe read in two lines, P02 over 58, is read wrongly in the dark."""
    open_page, names = sheet
    page = open_page(names[0], 390, 844).page
    cells = page.locator("tbody td:nth-child(2)").filter(has_text=re.compile(r"^[A-Z]\d*$"))
    assert cells.count() > 1
    heights = cells.evaluate_all(
        "cells => cells.map(c => (c.textContent = 'P0258',"
        " (r => (r.selectNodeContents(c), r.getClientRects().length))(document.createRange())))"
    )
    assert set(heights) == {1}


def test_the_fullest_sheet_prints_on_one_side(sheet):
    open_page, names = sheet
    paper = open_page(names[0]).page.pdf(prefer_css_page_size=True)
    # PDF 32000-1:2008, 7.7.3.3: each page is an object of that type; A4 is 595 by 842 points.
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1
    assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45]\.?\d* 84[12]", paper)


def test_a_full_step_test_prints_on_one_side(opened_from, tmp_path):
    written(tmp_path, plan=pd.concat([MADE.plan.plan] * 9, ignore_index=True))
    watched = opened_from(tmp_path)("ST-Z-1.html")
    assert watched.strangers() == []
    assert watched.complaints == []
    assert len(re.findall(rb"/Type\s*/Page\b", watched.page.pdf(prefer_css_page_size=True))) == 1
