"""The list of one budget."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.plan.benefit import Scored, scored
from district.plan.mains import mains_of
from district.plan.runs import Runs, runs_of
from district.plan.selection import Chosen, choose, offered, selection_of, settled
from district.plan.sites import allowed, sites_of
from district.renew_settings import Renew
from district.schema.renewal_tables import RENEWAL_PROJECTS
from district.settings import Settings
from tests.examples import examples
from tests.plan.made_town import costs_of, mains_table, network_of, rates_of, row_of

SITE = 4000.0


def street(
    lengths_m: list[float], benefit: list[float], **renew: Any
) -> tuple[Runs, np.ndarray, np.ndarray, Renew]:
    """One street whose mains cost 100 a metre."""
    table = mains_table(len(lengths_m), length_m=lengths_m, street="Mill Lane")
    runs = runs_of(table, network_of(row_of(lengths_m)))
    return runs, np.array(benefit), 100.0 * np.array(lengths_m), Renew(**renew)


def picked(
    case: tuple[Runs, np.ndarray, np.ndarray, Renew], budget_currency: float
) -> tuple[list[int], Chosen]:
    runs, benefit, cost, renew = case
    chosen = choose(
        runs,
        benefit,
        cost,
        renew=renew,
        budget_currency=budget_currency,
        site_currency=renew.site_currency,
    )
    return np.flatnonzero(chosen.renewed).tolist(), chosen


def test_the_site_is_paid_for_and_must_be_long_enough() -> None:
    case = street([30.0, 30.0, 30.0, 60.0], [9000.0, 100.0, 200.0, 1000.0])
    # The best main alone is too short a site; with its neighbour it costs 6 000 and the site.
    assert picked(case, 9_999.0)[0] == []
    found, chosen = picked(case, 10_000.0)
    assert found == [0, 1]
    assert (chosen.spent_currency, chosen.benefit_currency) == (10_000.0, 9100.0)
    assert chosen.gap_share < 1e-6
    # With all the money there is, all of it as one site.
    found, chosen = picked(case, 1e6)
    assert found == [0, 1, 2, 3]
    assert chosen.spent_currency == 15_000.0 + SITE


def test_two_sites_cost_two_sites() -> None:
    case = street([50.0, 500.0, 50.0], [9000.0, 1.0, 9000.0])
    assert picked(case, 17_999.0)[0] == [0]
    found, chosen = picked(case, 18_000.0)
    assert found == [0, 2]
    assert chosen.site.tolist() == [0, -1, 1]
    assert chosen.spent_currency == 10_000.0 + 2 * SITE


def test_only_what_pays_where_that_is_asked_for() -> None:
    case = street([50.0, 500.0, 60.0], [20_000.0, 1.0, 9_999.0], paying_only=True)
    # The last main saves 9 999 and would cost 6 000 and a site of 4 000.
    found, chosen = picked(case, 1e6)
    assert found == [0]
    assert chosen.benefit_currency == 20_000.0
    found, _ = picked(street([50.0, 500.0, 60.0], [20_000.0, 1.0, 9_999.0]), 20_000.0)
    assert found == [0, 2]


@pytest.mark.parametrize("budget", [0.0, -5.0, 100.0])
def test_a_budget_for_nothing_lists_nothing(budget: float) -> None:
    found, chosen = picked(street([60.0], [9000.0]), budget)
    assert found == []
    assert (chosen.spent_currency, chosen.benefit_currency, chosen.gap_share) == (0.0, 0.0, 0.0)


def test_mains_that_save_nothing_are_not_renewed_for_their_own_sake() -> None:
    assert picked(street([60.0, 60.0], [-10.0, 0.0]), 1e6)[0] == []


def test_a_site_that_is_worth_nothing_is_left_out() -> None:
    runs, benefit, cost, renew = street([60.0, 60.0, 60.0], [50.0, 0.0, -3.0])
    offer = offered(runs, benefit, cost, renew=renew, site_currency=SITE)
    chosen = settled(offer, np.array([True, False, True]), benefit, 55.0)
    assert chosen.site.tolist() == [0, -1, -1]
    assert chosen.spent_currency == 6000.0 + SITE
    assert chosen.gap_share == pytest.approx(0.1)


@settings(max_examples=examples(25), deadline=None)
@given(
    st.lists(st.tuples(st.integers(5, 90), st.integers(-20, 300)), min_size=1, max_size=9),
    st.integers(0, 900),
    st.booleans(),
)
def test_it_agrees_with_brute_force(
    mains: list[tuple[int, int]], budget_hundreds: int, paying_only: bool
) -> None:
    case = street(
        [float(m) for m, _ in mains], [100.0 * b for _, b in mains], paying_only=paying_only
    )
    runs, benefit, cost, renew = case
    budget = 100.0 * budget_hundreds
    sites = sites_of(runs, site_least_m=renew.site_least_m)
    offer = offered(runs, benefit, cost, renew=renew, site_currency=renew.site_currency)
    best = 0.0
    for choice in product([False, True], repeat=len(mains)):
        along = np.array(choice)
        if allowed(runs, sites, along) and offer.worth(along)[1] <= budget:
            best = max(best, offer.worth(along)[0])
    _, chosen = picked(case, budget)
    along = chosen.renewed[runs.row]
    assert allowed(runs, sites, along)
    assert chosen.spent_currency <= budget
    assert offer.worth(along)[0] == pytest.approx(best, abs=1e-6)


def score(**columns: Any) -> tuple[Scored, Runs]:
    table = mains_table(4, street=["Mill Lane"] * 3 + [""], **columns)
    network = network_of([*row_of([100.0] * 3), ("P4", [(0.0, 90.0), (100.0, 90.0)])])
    own = scored(mains_of(rates_of(table), costs_of(table["pipe_id"])), Renew())
    return own, runs_of(own.mains.table, network)


def test_a_site_without_a_street_is_called_by_a_pipe_of_its_own() -> None:
    table = mains_table(4, street="")
    own = scored(mains_of(rates_of(table), costs_of(table["pipe_id"])), Renew())
    runs = runs_of(own.mains.table, network_of(row_of([100.0] * 4)))
    assert set(runs.name) == {"P1"}
    chosen = Chosen(np.array([-1, -1, 0, 0]), 44_000.0, 0.0, 0.001)
    row = selection_of(own, runs, chosen, settings=Settings()).projects.iloc[0]
    assert (row["street"], row["pipe_ids"]) == ("P3", "P3, P4")
    assert row["said"].startswith("Pipes P3 and P4, 200\u00a0m of ")


def test_projects_stand_in_order_of_return_with_their_sums() -> None:
    own, runs = score(
        breaks_per_year=[0.05, 0.06, 0.01, 0.2],
        cell_id=["Z2", "Z10", "Z2", "Z1"],
        material=["pvc", "cast_iron", "pvc", ""],
    )
    chosen = Chosen(np.array([0, 0, -1, 1]), 68_000.0, 0.0, 0.001)
    found = selection_of(own, runs, chosen, settings=Settings())
    projects = found.projects
    assert list(projects.columns) == [n for n in RENEWAL_PROJECTS.names() if n != "kept_share"]
    assert projects["project_id"].tolist() == ["R1", "R2"]
    assert projects["rank"].tolist() == [1.0, 2.0]
    assert projects["street"].tolist() == ["P4", "Mill Lane"]
    assert projects["pipe_ids"].tolist() == ["P4", "P1, P2"]
    assert projects["cell_ids"].tolist() == ["Z1", "Z2, Z10"]
    assert projects["materials"].tolist() == ["", "cast_iron, pvc"]
    assert projects["cost_currency"].tolist() == [24_000.0, 44_000.0]
    assert projects["breaks_per_year"].tolist() == pytest.approx([0.2, 0.11])
    benefit = own.table["benefit_currency"].to_numpy()
    assert projects["benefit_currency"].tolist() == pytest.approx(
        [benefit[3], benefit[0] + benefit[1]]
    )
    index = projects["benefit_currency"] / projects["cost_currency"]
    assert projects["benefit_cost_index"].tolist() == pytest.approx(index.tolist())
    for name in ("breaks_per_year", "cost_currency", "benefit_currency", "benefit_cost_index"):
        assert (projects[f"{name}_low"] < projects[name]).all()
        assert (projects[name] < projects[f"{name}_high"]).all()
    assert found.of_pipe.to_dict() == {"P1": "R2", "P2": "R2", "P3": "", "P4": "R1"}
    assert found.gap_share == 0.001
    assert projects["said"][1].startswith("Mill Lane: pipes P1 and P2, 200")


def test_of_sites_with_one_return_the_first_id_comes_first() -> None:
    own, runs = score()
    chosen = Chosen(np.array([1, -1, 0, 2]), 0.0, 0.0, 0.0)
    found = selection_of(own, runs, chosen, settings=Settings())
    assert found.projects["pipe_ids"].tolist() == ["P1", "P3", "P4"]


def test_an_empty_list_has_all_columns() -> None:
    own, runs = score()
    found = selection_of(own, runs, Chosen(np.full(4, -1), 0.0, 0.0, 0.0), settings=Settings())
    assert list(found.projects.columns) == [
        n for n in RENEWAL_PROJECTS.names() if n != "kept_share"
    ]
    assert len(found.projects) == 0
    assert (found.of_pipe == "").all()
