from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from district.render.renewal_words import (
    answers,
    best_year_words,
    form_words,
    group_words,
    growth_words,
    rests_on,
    term_words,
    together,
    zones_words,
)
from district.results import Basis
from district.schema.renewal_tables import RENEWAL_YEARS, SCENARIO_WORDS
from tests.render.made_renewal import bare, made, of, three


def row(**told):
    return {"best_year": np.nan, "best_year_low": np.nan, "best_year_high": np.nan,
            "best_note": "", **told}  # fmt: skip


def test_a_year_has_no_space_in_its_thousands():
    known = {"best_year": 2034.0, "best_year_low": 2029.0, "best_year_high": 2047.0}
    assert best_year_words(row(**known)) == "2034 (2029 to 2047)"
    assert best_year_words(row(best_year=2034.0, best_note="that is now")) == "2034; that is now"
    assert best_year_words(row(best_note="breaks do not grow")) == "breaks do not grow"
    assert best_year_words(row()) == ""


def test_growth_is_told_in_per_cent_a_year():
    told = growth_words(three("growth_per_year", 0.031, 0.4)).replace("\u00a0", " ")
    assert told == "3.1 % (1.9 to 4.3) a year"
    none = {"growth_per_year": np.nan, "growth_per_year_low": np.nan}
    assert growth_words({**none, "growth_per_year_high": np.nan}) == "-"


def test_names_as_people_know_them():
    zones = {"Z1": "Upper", "Z,2": "Lower"}
    assert zones_words("Z1, Z9", zones) == "Upper, Z9"
    assert zones_words("Z,2", zones) == "Lower"
    assert zones_words("", zones) == "-"
    assert term_words("growth with age", "exponentially", {}) == "growth with age: exponentially"
    assert term_words("bore", "", {}) == "bore"
    assert group_words("material", "pvc") == "PVC"
    assert group_words("street", "pvc_road") == "pvc_road"
    assert group_words("street", "") == "not told"
    assert form_words("power") == "breaks are taken to grow with a power of age"


def test_years_are_added_up_by_scenario_in_order():
    rows = together(made().years)
    assert [r["scenario"] for r in rows] == list(SCENARIO_WORDS.values())
    years = made().years
    own = years[years["scenario"] == "none"]
    assert rows[0]["breaks_count"] == pytest.approx(own["breaks_count"].sum())
    assert rows[0]["leakage_m3_high"] == pytest.approx(own["leakage_m3_high"].sum())
    assert together(of(RENEWAL_YEARS, [])) == []


def test_four_questions_are_answered():
    said = {a["question"]: f"{a['answer']}. {a['detail']}".replace("\u00a0", " ")
            for a in answers(made())}  # fmt: skip
    assert said["What to renew"].startswith("8 sites, ")
    assert "a budget of EUR 900 000 in 2026" in said["What to renew"]
    assert "per 100 km/year" in said["Breaks of mains expected in 2026"]
    assert "2006-01-01 to 2025-12-31" in said["Breaks of mains expected in 2026"]
    assert "without renewal" in said["Breaks expected in 2035"]
    assert said["How good the list is"].startswith("38 % (29 to 48).")
    assert "earlier breaks for each metre: 25 %" in said["How good the list is"]


def test_nothing_listed_tested_or_to_come_is_said():
    plan = replace(bare(), years=of(RENEWAL_YEARS, []))
    said = [a["answer"] for a in answers(plan)]
    assert said == ["nothing", "not known", "not known", "not tested"]


def test_what_it_rests_on_is_said_once():
    plan = made()
    both = replace(plan, basis=replace(plan.basis, first=None, last=None), rates=replace(
        plan.rates, basis=Basis(date(2001, 1, 1), date(2025, 1, 1), limits=plan.basis.limits)
    ))  # fmt: skip
    based = rests_on(both)
    assert (based.first, based.last) == (date(2001, 1, 1), date(2025, 1, 1))
    assert based.limits == plan.basis.limits
    assert rests_on(plan).first == date(2006, 1, 1)
