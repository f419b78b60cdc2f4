"""Why works are on the list, word for word."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.plan.project_words import dear_because, project_said

ROW: dict[str, Any] = {
    "street": "Mill Lane",
    "pipe_ids": "P12, P13, P14",
    "length_m": 212.4,
    "materials": "cast_iron, pvc",
    "breaks_count": 5.0,
    "breaks_per_year": 0.42,
    "breaks_per_year_low": 0.25,
    "breaks_per_year_high": 0.66,
    "risk_currency_year": 2100.0,
    "risk_currency_year_low": 1200.0,
    "risk_currency_year_high": 3400.0,
    "cost_currency": 62_000.0,
    "cost_currency_low": 45_000.0,
    "cost_currency_high": 80_000.0,
    "benefit_currency": 130_000.0,
    "benefit_currency_low": 80_000.0,
    "benefit_currency_high": 190_000.0,
    "benefit_cost_index": 2.1,
    "benefit_cost_index_low": 1.2,
    "benefit_cost_index_high": 3.4,
}


def said(**changes: Any) -> str:
    row = {**ROW, **changes}
    return project_said(row, horizon_years=40, currency="EUR").replace("\u00a0", " ")


def test_a_site_in_a_street() -> None:
    assert said() == (
        "Mill Lane: pipes P12, P13 and P14, 212 m of PVC and cast iron. There 5 breaks are on "
        "record, and 0.42 (0.25 to 0.66) a year are expected, at EUR 2 100 per year (1 200 to "
        "3 400). The works cost EUR 62 000 (45 000 to 80 000) and save EUR 130 000 (80 000 to "
        "190 000) within 40 years: 2.1 (1.2 to 3.4) times the cost."
    )


def test_one_pipe_that_the_site_is_named_by_and_no_break() -> None:
    found = said(street="P12", pipe_ids="P12", breaks_count=0.0, materials="")
    assert found.startswith("Pipe P12, 212 m. There no break is on record, and")
    assert "There 1 break is on record" in said(breaks_count=1.0)


def test_works_that_cost_nothing_have_no_return() -> None:
    assert said(cost_currency=0.0).endswith("within 40 years.")


def test_what_makes_a_break_dear_is_named() -> None:
    mains = pd.DataFrame(
        {
            "breaks_per_year": [0.1, 0.3],
            "break_currency": [4000.0, 8000.0],
            "break_currency_low": [2000.0, 4000.0],
            "break_currency_high": [6000.0, 14_000.0],
            "above": ["road, building, other", None],
            "dry_critical_count": [0.0, 2.0],
            "dry_people_count": [120.0, 3.0],
            "hidden_leak_m3_d": [6.0, 6.4],
        }
    )
    why = dear_because(mains, currency="EUR").replace("\u00a0", " ")
    assert why == (
        "A break costs EUR 7 000 (4 000 to 12 000): below a building and a road; 2 critical users "
        "without water; some 120 people without water; 12 m³/day of leakage looked for likely "
        "there now."
    )
    whole = project_said(ROW, dear=why, horizon_years=40, currency="EUR")
    assert f"per year (1\u00a0200 to 3\u00a0400). {why} The works cost" in whole
    plain = mains.assign(
        above=None, dry_critical_count=0.0, dry_people_count=2.0, hidden_leak_m3_d=0.1
    )
    # By hand, three in four on the second: 3 500 to 12 000.
    short = dear_because(plain, currency="EUR").replace("\u00a0", " ")
    assert short == "A break costs EUR 7 000 (4 000 to 12 000)."
    assert dear_because(mains[:0], currency="EUR") == ""


def test_a_material_that_is_not_known_is_said_so() -> None:
    assert "212 m of unknown material. There" in said(materials="unknown")
