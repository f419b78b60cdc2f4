"""How the list changes with rates, costs and budget."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.plan.mains import Mains, mains_of
from district.plan.runs import Runs, runs_of
from district.plan.selection import Chosen
from district.plan.variants import (
    LIST,
    chosen_by_variant,
    kept_projects,
    kept_share,
    variants_of,
    variants_table,
)
from district.renew_settings import Renew
from district.schema.renewal_tables import RENEWAL_VARIANTS
from tests.examples import examples
from tests.plan.made_town import costs_of, mains_table, network_of, rates_of, row_of, town

RENEW = Renew()


@pytest.fixture(scope="module")
def case() -> tuple[Mains, Runs]:
    rates, costs, network = town(300, draws=4)
    mains = mains_of(rates, costs)
    return mains, runs_of(mains.table, network)


def test_the_list_comes_first_and_budgets_last() -> None:
    found = variants_of(RENEW)
    assert [v.name for v in found] == [
        LIST,
        "discount rate 1.5 %",
        "discount rate 5.5 %",
        "renewal 25 % cheaper",
        "renewal 25 % dearer",
        "breaks 25 % cheaper",
        "breaks 25 % dearer",
        "half the budget",
        "twice the budget",
    ]
    assert [v.discount_share for v in found[:3]] == pytest.approx([0.035, 0.015, 0.055])
    assert found[-1].budget_share == 2.0


def test_the_discount_rate_is_never_below_nothing() -> None:
    assert variants_of(Renew(discount_share=0.01))[1].discount_share == 0.0
    assert variants_of(Renew(discount_share=0.01))[1].name == "discount rate 0 %"


def test_table_and_shares(case: tuple[Mains, Runs]) -> None:
    mains, runs = case
    budget = float(mains.real("renewal_currency").sum()) / 30
    found = chosen_by_variant(mains, runs, renew=RENEW, budget_currency=budget)
    table = variants_table(mains, found, budget_currency=budget)
    assert list(table.columns) == list(RENEWAL_VARIANTS.names())
    assert (table["spent_currency"] <= table["budget_currency"]).all()
    assert table["budget_currency"].tolist() == [budget] * 7 + [budget / 2, budget * 2]
    assert table["same_length_share"][0] == 1.0
    assert table["same_length_share"].between(0, 1).all()
    by_name = table.set_index("variant")
    assert by_name.loc["twice the budget", "benefit_currency"] >= table["benefit_currency"][0]
    assert by_name.loc["half the budget", "benefit_currency"] <= table["benefit_currency"][0]
    assert by_name.loc["renewal 25 % cheaper", "length_m"] > table["length_m"][0]
    # Nothing but breaks is saved here: what they cost changes what is saved, not the list.
    assert by_name.loc["breaks 25 % dearer", "same_length_share"] == 1.0
    dearer = by_name.loc["breaks 25 % dearer", "benefit_currency"]
    hidden = mains.real("hidden_currency")[found[0][1].renewed].sum()
    assert dearer == pytest.approx(1.25 * (table["benefit_currency"][0] - hidden) + hidden)
    kept = kept_share(found)
    assert set(np.round(kept * 6, 9)) <= set(range(7))
    assert kept[found[0][1].renewed].mean() > 0.5
    assert kept[~found[0][1].renewed].max() < 1.0


def test_a_project_is_kept_where_most_of_its_length_is() -> None:
    table = mains_table(3, length_m=[100.0, 40.0, 60.0], street="Mill Lane")
    mains = mains_of(rates_of(table), costs_of(table["pipe_id"]))
    variants = variants_of(RENEW)

    def renewing(*rows: int) -> Chosen:
        site = np.full(3, -1)
        site[list(rows)] = 0
        return Chosen(site, 0.0, 0.0, 0.0)

    lists = [(0, 1), (0, 1), (0,), (1,), (), (1, 2), (0, 2), (), (0, 1, 2)]
    found = [(v, renewing(*rows)) for v, rows in zip(variants, lists, strict=True)]
    assert kept_share(found).tolist() == pytest.approx([3 / 6, 3 / 6, 2 / 6])
    kept = kept_projects(mains, found, np.array(["R1", "R1", "R2"], dtype=object), ["R1", "R2"])
    assert kept.tolist() == pytest.approx([3 / 6, 2 / 6])


def test_an_empty_list_has_no_length_in_common() -> None:
    table = mains_table(2, length_m=100.0)
    mains = mains_of(rates_of(table), costs_of(table["pipe_id"]))
    runs = runs_of(mains.table, network_of(row_of([100.0, 100.0])))
    found = chosen_by_variant(mains, runs, renew=RENEW, budget_currency=0.0)
    shown = variants_table(mains, found, budget_currency=0.0)
    assert shown["same_length_share"].isna().all()
    assert (shown["projects_count"] == 0).all()


@settings(max_examples=examples(6), deadline=None)
@given(st.floats(0.002, 0.2), st.booleans())
def test_the_budget_is_kept_and_more_of_it_never_saves_less(
    case: tuple[Mains, Runs], share: float, paying_only: bool
) -> None:
    mains, runs = case
    budget = share * float(mains.real("renewal_currency").sum())
    renew = Renew(paying_only=paying_only)
    found = chosen_by_variant(mains, runs, renew=renew, budget_currency=budget)
    worth = []
    for variant, chosen in found:
        assert chosen.spent_currency <= budget * variant.budget_share
        cost = chosen.spent_currency if paying_only else 0.0
        worth.append(chosen.benefit_currency - cost)
    half, twice = worth[-2], worth[-1]
    # As near as each list comes to the best.
    assert half <= worth[0] * (1 + 2e-5)
    assert worth[0] <= twice * (1 + 2e-5)
