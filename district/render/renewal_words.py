"""What the plan of renewal says in words, on page, map and in print."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from district import words
from district.renewal_results import Renewal
from district.results import Basis
from district.schema.renewal_tables import RANKING_WORDS, SCENARIO_WORDS, SCENARIOS

_SUMMED = ("breaks_count", "leakage_m3", "breaks_currency")
_GROWTH = {
    "exponential": "breaks are taken to grow by the same share with each year of age",
    "power": "breaks are taken to grow with a power of age",
    "none": "breaks are taken not to grow with age",
}
NOT_TESTED = (
    "The record of breaks is too short, or holds too few, to make a list from its first years and "
    "hold it against the last."
)
_ZONE_TERMS = ("cell_id", "zone")


def materials_words(materials: Any) -> str:
    """Materials as a table joins them, in words.

    >>> materials_words("cast_iron, pvc")
    'cast iron, PVC'
    """
    if words.missing(materials):
        return words.EMPTY
    return ", ".join(words.spelled(m.strip()) for m in str(materials).split(","))


def zones_words(cell_ids: Any, zones: Mapping[str, str]) -> str:
    """Zones as a table joins them, by what people call each."""
    if words.missing(cell_ids):
        return words.EMPTY
    whole = str(cell_ids)
    if whole in zones:  # An id may hold a comma itself.
        return zones[whole]
    return ", ".join(zones.get(key, key) for key in whole.split(", "))


def term_words(term: Any, level: Any, zones: Mapping[str, str]) -> str:
    """What makes pipes break, in words: 'material: cast iron'.

    >>> term_words("material", "cast_iron", {}), term_words("zone", "Z1", {"Z1": "Upper town"})
    ('material: cast iron', 'zone: Upper town')
    """
    of_zones = str(term) in _ZONE_TERMS
    kind = "zone" if of_zones else words.spelled(term)
    if words.missing(level):
        return kind
    named = zones.get(str(level), str(level)) if of_zones else words.spelled(level)
    return f"{kind}: {named}"


def group_words(group: str, name: Any) -> str:
    """A street or a material as people know it."""
    if words.missing(name):
        return "not told"
    return words.spelled(name) if group == "material" else str(name)


def best_year_words(row: Mapping[str, Any]) -> str:
    """The year in which renewal costs least, with limits, or why none is told."""
    note = "" if words.missing(row["best_note"]) else str(row["best_note"])
    if words.missing(row["best_year"]):
        return note
    # A year is no count: no space parts its thousands.
    year, low, high = _three(row, "best_year")
    limited = not words.missing(low) and not words.missing(high) and low < high
    said = f"{year:.0f} ({low:.0f} to {high:.0f})" if limited else f"{year:.0f}"
    return f"{said}; {note}" if note else said


def growth_words(row: Mapping[str, Any]) -> str:
    """By how much a pipe's breaks grow in the next year."""
    said = words.figure(*_three(row, "growth_per_year"), "growth_share")
    return words.EMPTY if said == words.EMPTY else f"{said} a year"


def form_words(growth: str) -> str:
    """How breaks grow with age, in words."""
    return _GROWTH.get(growth, words.spelled(growth))


def together(years: pd.DataFrame) -> list[dict[str, Any]]:
    """The years of each scenario taken together, in order: what is renewed, spent and expected.

    Limits are added up, which is cautious: what makes one year worse makes all of them worse.
    """
    rows = []
    for scenario in SCENARIOS:
        own = years[years["scenario"] == scenario]
        if own.empty:
            continue
        names = [f"{name}{end}" for name in _SUMMED for end in ("", "_low", "_high")]
        rows.append(
            {
                "scenario": SCENARIO_WORDS[scenario],
                "renewed_km": float(own["renewed_m"].sum()) / 1000.0,
                "spent_currency": float(own["spent_currency"].sum()),
                **{name: float(own[name].sum()) for name in names},
            }
        )
    return rows


def rests_on(plan: Renewal) -> Basis:
    """What the plan and its rates rest on, each sentence once."""
    parts = (plan.basis, plan.rates.basis)
    return Basis(
        first=plan.rates.basis.first or plan.basis.first,
        last=plan.rates.basis.last or plan.basis.last,
        meters=plan.basis.meters,
        assumptions=tuple(dict.fromkeys(said for p in parts for said in p.assumptions)),
        limits=tuple(dict.fromkeys(said for p in parts for said in p.limits)),
    )


def answers(plan: Renewal) -> list[dict[str, str]]:
    """What a planner asks first: question, answer, and what it rests on."""
    return [_list_answer(plan), _now_answer(plan), _later_answer(plan), _test_answer(plan)]


def _answer(question: str, answer: str, detail: str) -> dict[str, str]:
    return {"question": question, "answer": answer, "detail": detail}


def _list_answer(plan: Renewal) -> dict[str, str]:
    works, money = plan.projects, plan.currency
    budget = words.figure(plan.budget_currency, name="budget_currency", currency=money)
    if works.empty:
        return _answer("What to renew", "nothing", f"No works fit the budget of {budget}.")
    km, of_km = works["length_m"].sum() / 1000.0, plan.pipes["length_m"].sum() / 1000.0
    spent = words.figure(works["cost_currency"].sum(), name="cost_currency", currency=money)
    return _answer(
        "What to renew",
        f"{words.plural(len(works), 'site')}, {words.figure(km, name='length_km')}",
        f"Of {words.figure(of_km, name='mains_km')} of mains. Takes {spent} of a budget of "
        f"{budget} in {plan.year}.",
    )


def _now_answer(plan: Renewal) -> dict[str, str]:
    km = plan.pipes["length_m"].sum() / 1000.0
    first = plan.years[(plan.years["scenario"] == "none") & (plan.years["year"] == plan.year)]
    question = f"Breaks of mains expected in {plan.year}"
    if first.empty or not km > 0:
        return _answer(question, "not known", "")
    expected = _three(first.iloc[0], "breaks_count")
    x, low, high = (100.0 * count / km for count in expected)
    by_length = words.figure(x, low, high, "breaks_per_100_km_year")
    seen = words.plural(int(plan.pipes["breaks_count"].sum()), "break")
    record = rests_on(plan)
    over = f", {words.period(record.first, record.last)}" if record.first else ""
    said = f"{by_length}. On record{over}: {seen} of the mains in use."
    return _answer(question, words.figure(*expected), said)


def _later_answer(plan: Renewal) -> dict[str, str]:
    last = plan.years[plan.years["year"] == plan.years["year"].max()]
    said = {str(row["scenario"]): _three(row, "breaks_count") for _, row in last.iterrows()}
    if not said:
        return _answer("Breaks in the years to come", "not known", "")
    short = [
        f"{words.rounded(*said[key])[0]} {name}"
        for key, name in (("none", "without renewal"), ("list", "by the list"))
        if key in said
    ]
    each = "; ".join(f"{SCENARIO_WORDS[key]}: {words.figure(*said[key])}" for key in said)
    question = f"Breaks expected in {last['year'].iloc[0]:.0f}"
    return _answer(question, ", ".join(short), f"{each[:1].upper()}{each[1:]}.")


def _test_answer(plan: Renewal) -> dict[str, str]:
    question = "How good the list is"
    if plan.backtest is None:
        return _answer(question, "not tested", NOT_TESTED)
    name = "captured_10_share"
    said = {
        str(row["ranking"]): words.figure(*_three(row, name), name)
        for _, row in plan.backtest.table.iterrows()
    }
    own = said.pop("rates", words.EMPTY)
    others = "; ".join(f"{RANKING_WORDS[key]}: {share}" for key, share in said.items())
    return _answer(
        question,
        own,
        f"of the breaks since {plan.backtest.year} were on the tenth of the length that a list "
        f"made then would have put first. By other rankings: {others}.",
    )


def _three(row: Any, name: str) -> tuple[float, float, float]:
    return row[name], row[f"{name}_low"], row[f"{name}_high"]
