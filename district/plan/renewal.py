"""From rates and costs to the list: what to renew under a budget, what it saves, how firm it is."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from district.network import Network
from district.plan.benefit import scored
from district.plan.groups import renewal_groups
from district.plan.list_words import assumed, list_said
from district.plan.mains import mains_of
from district.plan.runs import runs_of
from district.plan.selection import selection_of
from district.plan.ten_years import renewal_years
from district.plan.variants import chosen_by_variant, kept_projects, kept_share, variants_table
from district.renewal_results import PipeRates
from district.schema.renewal_tables import RENEWAL_PIPES, RENEWAL_PROJECTS
from district.schema.typed import typed
from district.settings import Settings


@dataclass(frozen=True, eq=False)
class RenewalList:
    """RENEWAL_PIPES in natural order of pipe_id, RENEWAL_PROJECTS, RENEWAL_VARIANTS,
    RENEWAL_YEARS and RENEWAL_GROUPS; what a planner should know first, and what it rests on."""

    budget_currency: float
    pipes: pd.DataFrame
    projects: pd.DataFrame
    variants: pd.DataFrame
    years: pd.DataFrame
    groups: pd.DataFrame
    said: tuple[str, ...]
    assumptions: tuple[str, ...]


def usual_budget_currency(costs: pd.DataFrame, *, settings: Settings) -> float:
    """The budget as set; where none is, one hundredth of what renewing all mains costs (table
    PIPE_COSTS)."""
    set_at = settings.renew.budget_currency
    return set_at if set_at > 0 else float(costs["renewal_currency"].sum()) / 100


def renewal_list(
    rates: PipeRates,
    costs: pd.DataFrame,
    network: Network,
    *,
    settings: Settings,
    budget_currency: float,
) -> RenewalList:
    """The mains to renew for a budget, with every input of their score.

    Parameters: the rates, table PIPE_COSTS with a row for every main of theirs, the network they
    lie in. Neither the order of rows nor the machine changes the list. Raises `KeyError` where a
    main has no costs.
    """
    renew = settings.renew
    mains = mains_of(rates, costs)
    score = scored(mains, renew)
    runs = runs_of(mains.table, network)
    found = chosen_by_variant(mains, runs, renew=renew, budget_currency=budget_currency)
    chosen = found[0][1]
    # The last of the variants has twice the budget.
    first = {"list": chosen, "twice": found[-1][1]}
    years = renewal_years(mains, runs, first, renew=renew, budget_currency=budget_currency)
    selection = selection_of(score, runs, chosen, settings=settings)
    of_pipe = selection.of_pipe.to_numpy()
    kept = kept_projects(mains, found, of_pipe, selection.projects["project_id"])
    return RenewalList(
        budget_currency=budget_currency,
        pipes=typed(
            score.table.assign(project_id=of_pipe, kept_share=kept_share(found)), RENEWAL_PIPES
        ),
        projects=typed(selection.projects.assign(kept_share=kept), RENEWAL_PROJECTS),
        variants=variants_table(mains, found, budget_currency=budget_currency),
        years=years,
        groups=renewal_groups(mains, chosen.renewed),
        said=list_said(
            score, runs, chosen, kept, years, settings=settings, budget_currency=budget_currency
        ),
        assumptions=assumed(score, settings=settings),
    )
