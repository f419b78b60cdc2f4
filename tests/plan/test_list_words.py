"""What a planner should know of the list first, word for word."""

from __future__ import annotations

from typing import Any

from district.plan import renewal_list
from district.renew_settings import Renew
from district.settings import Settings
from tests.plan.made_town import costs_of, mains_table, network_of, rates_of, row_of


def told(
    budget_currency: float, *, growth: dict[str, Any] | None = None, **renew: Any
) -> tuple[list[str], list[str]]:
    table = mains_table(4, street="Mill Lane", breaks_per_year=[0.3, 0.02, 0.001, 0.25])
    found = renewal_list(
        rates_of(table, **(growth or {})),
        costs_of(table["pipe_id"]),
        network_of(row_of([100.0] * 4)),
        settings=Settings(renew=Renew(**renew)),
        budget_currency=budget_currency,
    )
    return (
        [s.replace("\u00a0", " ") for s in found.said],
        [s.replace("\u00a0", " ") for s in found.assumptions],
    )


def test_a_list() -> None:
    said, _ = told(50_000.0)
    assert said[0].startswith(
        "The list: 2 sites with 200 m of mains in 2026, for EUR 48 000 of a budget of "
        "EUR 50 000. It saves EUR "
    )
    assert said[0].endswith(
        " times its cost. No other list within this budget saves more than 0.01 % more."
    )
    assert said[1] == (
        "1 of its 2 sites stays on the list whichever of the discount rate, the cost of renewal "
        "and the cost of breaks is changed."
    )
    assert said[2].startswith("Without renewal 0.5")
    assert " breaks of mains are expected in 2026 and " in said[2]
    assert ", with twice the budget " in said[2]
    assert said[3] == (
        "By what breaks and renewal cost alone, 2 mains (200 m) are best renewed now, 1 other in a "
        "later year."
    )


def test_no_budget_and_one_too_small() -> None:
    said = told(0.0)[0]
    assert said[0] == "There is no budget, so nothing is listed."
    # A list of nothing changes nothing in ten years.
    assert "with such a list" not in said[1]
    assert told(23_999.0)[0][0] == (
        "Nothing is listed: the cheapest site costs EUR 24 000, and the budget is EUR 23 999."
    )


def test_nothing_pays() -> None:
    said, _ = told(1e6, horizon_years=1, paying_only=True)
    assert said[0] == "Nothing is listed: no site within the budget saves more than it costs."


def test_only_what_pays() -> None:
    said, assumed = told(50_000.0, paying_only=True)
    assert said[0].endswith(
        "No other list within this budget saves beyond its cost more than 0.01 % more."
    )
    assert any("most beyond their cost" in s for s in assumed)


def test_growth_that_is_not_shown_and_no_discount_rate() -> None:
    said, _ = told(50_000.0, growth={"growth": 0.0, "spread": 0.02})
    assert said[3] == (
        "No best year of renewal is told: the breaks on record do not show that they grow with age."
    )
    said, _ = told(50_000.0, discount_share=0.0)
    assert said[3] == (
        "No best year of renewal is told: without a discount rate no year costs less than another."
    )


def test_when_no_time_has_come() -> None:
    said, _ = told(50_000.0, growth={"growth": 0.06, "spread": 0.001}, discount_share=0.1)
    assert said[3] == (
        "By what breaks and renewal cost alone, no main is best renewed now; 4 are in a later year."
    )


def test_assumptions() -> None:
    _, assumed = told(50_000.0)
    assert assumed == [
        "Savings count over 40 years, discounted by 3.5 % a year to the start of 2026; a year's "
        "breaks fall in its middle, and leakage looked for on a main counts once. They are held "
        "against not renewing within these years: a main whose best year is far off may do as well "
        "put off.",
        "Mains are renewed in polyethylene, which breaks at its published rate at 50 years of age "
        "and less before, as breaks grow with age.",
        "Breaks grow with age until 10 years beyond the oldest age on record (60 years), then "
        "stay: what is older has not been seen.",
        "The list is the sites that save most within the budget, whether or not each pays.",
        "A site is neighbouring mains of one street, at least 50 m or all of a shorter street, "
        "and costs EUR 4 000 beside its mains.",
        "Costs are drawn lognormally by their limits, too high or too low for all mains at once.",
        "The best year is when breaks reach ln(1 + R) Cr / Cb a year (Shamir & Howard 1979), the "
        "cost of the site left out.",
        "Over ten years each year's sites are chosen from what is left, at the rates of then; "
        "they are done by the middle of the year, and what is left of a budget is not carried "
        "over. Leakage looked for now runs until it is found, with or without renewal, so that it "
        "falls soon in all scenarios; hidden leakage that begins later is not counted.",
    ]
