"""The page of the plan of renewal, with awkward names, and all that is written beside it."""

from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd
import pytest

from district.errors import OutputError
from district.render.renewal import STREETS, WORKS, renewal_page, write_renewal
from district.render.renewal_tables import renewal_frames
from district.schema.columns import check
from district.schema.renewal_tables import RENEWAL_CAUTION
from tests.render.made_renewal import SCRIPT, bare, made


def text(page: str) -> str:
    body = re.sub(r"<style>.*?</style>", "", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ")


@pytest.mark.parametrize("plan", [made(), bare()], ids=["made", "bare"])
def test_what_is_made_up_here_is_as_declared(plan):
    for table, frame in renewal_frames(plan).values():
        _, findings = check(table, frame, source=table.name)
        assert findings == (), table.name


def test_all_is_written_in_order_and_the_same_again(tmp_path):
    paths = write_renewal(made(), tmp_path / "a")
    assert [p.name for p in paths[:4]] == [
        "renewal.html", "renewal_map.html", "renewal.xlsx", "renewal.gpkg",
    ]  # fmt: skip
    assert {p.parent.name for p in paths[4:]} == {"renewal"}
    assert all(p.is_file() for p in paths)
    for path in write_renewal(made(), tmp_path / "b"):
        same = tmp_path / "a" / path.relative_to(tmp_path / "b")
        assert path.read_bytes() == same.read_bytes(), path.name


def test_other_files_stay_and_nothing_is_half_written(tmp_path):
    (tmp_path / "index.html").write_text("mine")
    write_renewal(bare(), tmp_path)
    assert (tmp_path / "index.html").read_text() == "mine"
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "renewal").write_text("in the way")
    with pytest.raises(OutputError):
        write_renewal(made(), tmp_path / "out")
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["renewal"]


def test_findings_before_the_list_and_the_caution_with_it():
    page = text(renewal_page(made()))
    order = ("What to renew", "The list holds 8 works", RENEWAL_CAUTION[:40],
             "Findings in the data", "Name the pipe that broke", "The list, the best return first",
             "How good the list is Made at",
             "Ten years", "How the list changes", "What makes pipes break", "By material",
             "By street", "Leak surveys", "What this rests on", "4 breaks of 71")  # fmt: skip
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_figures_carry_limits_and_no_count_expected_is_cut_to_a_whole_number():
    page = text(renewal_page(made()))
    assert "38 29 to 48" in page
    assert "0.94 0.61 to 1.27" in page
    assert "not told" in page


def test_names_stay_text():
    page = renewal_page(made())
    assert "<script" not in page
    assert "Upper &lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "Mühlgasse &#34;alt&#34; &amp; {{ 7 * 7 }} {% raw %} ${1+1} `tick`" in page
    assert re.findall(r'(?:src|href)="(?!data:)([^"#]+)"', page) == [
        "renewal_map.html", "renewal.xlsx", "renewal.gpkg",
    ]  # fmt: skip


def test_where_there_is_nothing_the_page_says_so():
    page = text(renewal_page(bare()))
    for words in ("No works fit the budget", "too short, or holds too few", "no list to change",
                  "the rates are the published ones", "No interval is told"):  # fmt: skip
        assert words in page, words
    assert "Findings in the data" not in page


def test_a_long_list_is_cut_and_says_where_the_rest_is():
    plan = made(400, 19)
    many = pd.concat([plan.projects] * 5, ignore_index=True)
    own = plan.groups[plan.groups["group"] == "street"]
    streets = pd.concat([own.assign(name=own["name"] + f" {n}") for n in range(6)])
    page = renewal_page(replace(plan, projects=many, groups=streets))
    assert f"{5 * 19 - WORKS} more sites in" in text(page)
    assert 'href="renewal/renewal_projects.csv"' in page
    assert f"{len(streets) - STREETS} more streets in" in text(page)
    assert SCRIPT not in page


def test_a_map_without_mains_has_its_pages_too(tmp_path):
    plan = bare()
    rates = replace(plan.rates, table=plan.rates.table[:0], history=plan.rates.history[:0])
    cut = {name: getattr(plan, name)[:0] for name in ("pipes", "lines", "groups", "years")}
    assert all(p.is_file() for p in write_renewal(replace(plan, rates=rates, **cut), tmp_path))


def test_the_plan_is_left_alone():
    plan, before = made(), made()
    renewal_page(plan)
    for name in ("pipes", "projects", "years", "groups", "variants", "survey_year"):
        pd.testing.assert_frame_equal(getattr(plan, name), getattr(before, name))
