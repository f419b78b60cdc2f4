"""From rates and costs to the list."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.network import Network
from district.plan import RenewalList, renewal_list, usual_budget_currency
from district.plan.runs import runs_of
from district.renew_settings import Renew
from district.renewal_results import PipeRates
from district.schema import renewal_tables
from district.settings import Settings
from tests.examples import examples
from tests.plan.made_town import costs_of, mains_table, network_of, rates_of, row_of, town

Case = tuple[PipeRates, pd.DataFrame, Network]
TABLES = ("pipes", "projects", "variants", "years", "groups")


@pytest.fixture(scope="module")
def case() -> Case:
    return town(250, draws=20)


def listed(case: Case, budget_currency: float | None = None, **renew: Any) -> RenewalList:
    rates, costs, network = case
    said = Settings(renew=Renew(**renew))
    budget = budget_currency
    if budget is None:
        budget = usual_budget_currency(costs, settings=said)
    return renewal_list(rates, costs, network, settings=said, budget_currency=budget)


def small(**columns: Any) -> Case:
    table = mains_table(3, street="Mill Lane", **columns)
    network = network_of(row_of([100.0] * 3))
    return rates_of(table), costs_of(table["pipe_id"]), network


def test_all_tables_are_as_declared_and_agree(case: Case) -> None:
    found = listed(case, budget_currency=300_000.0)
    for name in TABLES:
        table = getattr(renewal_tables, f"RENEWAL_{name.upper()}")
        assert list(getattr(found, name).columns) == list(table.names()), name
    pipes, projects = found.pipes, found.projects
    assert len(pipes) == 250
    own = pipes[pipes["project_id"] != ""]
    assert len(projects) > 5
    assert set(own["project_id"]) == set(projects["project_id"])
    by_project = own.groupby("project_id")[["length_m", "benefit_currency", "renewal_currency"]]
    sums = by_project.sum().loc[projects["project_id"]].reset_index(drop=True)
    assert np.allclose(sums["length_m"], projects["length_m"])
    assert np.allclose(sums["benefit_currency"], projects["benefit_currency"])
    assert np.allclose(sums["renewal_currency"] + 4000.0, projects["cost_currency"])
    assert (projects["benefit_cost_index"].diff().dropna() <= 1e-9).all()
    assert found.variants["spent_currency"][0] == pytest.approx(projects["cost_currency"].sum())
    assert found.variants["spent_currency"][0] <= 300_000.0
    assert found.variants["projects_count"][0] == len(projects)
    first = found.years[found.years["scenario"] == "list"].iloc[0]
    assert first["renewed_m"] == pytest.approx(projects["length_m"].sum())
    streets = found.groups[found.groups["group"] == "street"]
    assert streets["listed_km"].sum() * 1000 == pytest.approx(projects["length_m"].sum())
    assert pipes["kept_share"].between(0, 1).all()
    assert projects["kept_share"].between(0, 1).all()
    assert all(projects["said"].str.endswith("the cost."))


def test_every_site_is_a_row_of_neighbours_and_long_enough(case: Case) -> None:
    rates, _, network = case
    found = listed(case, budget_currency=300_000.0, site_least_m=150.0)
    runs = runs_of(rates.table, network)
    names = rates.table["pipe_id"].to_numpy()[runs.row]
    place = {name: n for n, name in enumerate(names)}
    assert len(found.projects) > 2
    for row in found.projects.itertuples():
        at = [place[p] for p in row.pipe_ids.split(", ")]
        assert at == list(range(at[0], at[0] + len(at)))
        assert len(set(runs.run[at])) == 1
        whole = runs.length_m[runs.run == runs.run[at[0]]].sum()
        assert row.length_m >= min(150.0, whole) - 1e-6


@pytest.fixture(scope="module")
def of_200_000(case: Case) -> RenewalList:
    return listed(case, 200_000.0)


@settings(max_examples=examples(2), deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_order_of_rows_changes_nothing(case: Case, of_200_000: RenewalList, seed: int) -> None:
    rates, costs, network = case
    rng = np.random.default_rng(seed)
    rows, others = rng.permutation(250), rng.permutation(250)
    mixed = replace(
        rates, table=rates.table.iloc[rows].reset_index(drop=True), draws=rates.draws[rows]
    )
    turned = replace(network, pipes=network.pipes.iloc[others])
    one = of_200_000
    other = listed((mixed, costs.iloc[others], turned), 200_000.0)
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(one, name), getattr(other, name), check_exact=True)
    assert one.said == other.said
    assert one.assumptions == other.assumptions


def test_inputs_are_not_written_to(case: Case) -> None:
    rates, costs, network = case
    before = rates.table.copy(), rates.draws.copy(), costs.copy(), network.pipes.copy()
    listed(case, 100_000.0)
    assert rates.table.equals(before[0])
    assert (rates.draws == before[1]).all()
    assert costs.equals(before[2])
    assert network.pipes.equals(before[3])


@settings(max_examples=examples(4), deadline=None)
@given(st.integers(0, 50), st.sampled_from([0.0, 0.2]), st.booleans())
def test_whatever_the_town_the_budget_is_kept(seed: int, share: float, pays: bool) -> None:
    rates, costs, network = town(40, seed=seed, draws=6)
    budget = share * float(costs["renewal_currency"].sum())
    found = listed((rates, costs, network), budget, paying_only=pays)
    assert found.projects["cost_currency"].sum() <= budget * (1 + 1e-12)
    if pays:
        assert (found.projects["benefit_currency"] >= found.projects["cost_currency"]).all()


def test_the_budget_as_set_or_a_hundredth_of_all(case: Case) -> None:
    costs = case[1]
    every = costs["renewal_currency"].sum()
    assert usual_budget_currency(costs, settings=Settings()) == pytest.approx(every / 100)
    said = Settings(renew=Renew(budget_currency=5.0))
    assert usual_budget_currency(costs, settings=said) == 5.0


def test_without_budget_or_mains_the_list_is_empty_and_says_why() -> None:
    found = listed(small(), 0.0)
    assert len(found.projects) == 0
    assert (found.pipes["project_id"] == "").all()
    assert (found.pipes["kept_share"] == 0).all()
    assert found.said[0] == "There is no budget, so nothing is listed."
    rates, costs, network = small()
    none = replace(rates, table=rates.table.iloc[:0], draws=rates.draws[:0])
    found = listed((none, costs, network), 1000.0)
    assert len(found.pipes) == len(found.projects) == len(found.groups) == 0
    assert found.said == ("No main is in use: there is nothing to renew.",)


def test_a_rate_without_draws_still_makes_a_list() -> None:
    rates, costs, network = small(breaks_per_year=0.2)
    bare = replace(rates, draws=rates.draws[:, :0], growth_draws=rates.growth_draws[:0])
    found = listed((bare, costs, network), 1e6)
    assert len(found.projects) == 1
    assert found.projects["benefit_currency_low"][0] == found.projects["benefit_currency"][0]
