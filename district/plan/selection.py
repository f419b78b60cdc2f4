"""The list: what one budget renews, site by site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.plan.benefit import Scored
from district.plan.drawn import limits
from district.plan.priced import Offer
from district.plan.programme import best_sites
from district.plan.project_words import dear_because, project_said
from district.plan.runs import Flags, Reals, Runs, Wholes
from district.plan.sites import site_numbers, sites_of
from district.renew_settings import Renew
from district.renewal_results import Selection
from district.schema.renewal_tables import RENEWAL_PROJECTS
from district.schema.typed import typed
from district.settings import Settings
from district.words import natural, natural_key

_PLACES = 9
"""Returns that agree in so many digits rank by id."""


@dataclass(frozen=True, eq=False)
class Chosen:
    """What a budget renews: `site` number of each of N mains in the order of the table, -1 where
    none; sums, sites included; and how far above its benefit (less its cost, where only works that
    pay are listed) the best may lie."""

    site: Wholes
    spent_currency: float
    benefit_currency: float
    gap_share: float

    @property
    def renewed(self) -> Flags:
        """Whether each main is renewed."""
        return np.asarray(self.site >= 0)


def choose(
    runs: Runs,
    benefit: Reals,
    cost: Reals,
    *,
    renew: Renew,
    budget_currency: float,
    site_currency: float,
) -> Chosen:
    """The sites that save most within the budget.

    Parameters: `benefit` and `cost` of the mains in the order of their table, shape (N), of which
    `runs` may hold some. Each site costs `site_currency` beside its mains and is at least
    `renew.site_least_m` long, or a whole shorter run. With `renew.paying_only` the sites that save
    most beyond their cost, and none that saves less than it costs.
    """
    offer = offered(runs, benefit, cost, renew=renew, site_currency=site_currency)
    none = np.zeros(len(runs.row), dtype=bool)
    chosen, bound = none, 0.0
    if budget_currency > 0 and len(runs.row):
        chosen, bound = best_sites(offer, budget_currency=budget_currency)
    return settled(offer, chosen, benefit, bound)


def offered(
    runs: Runs, benefit: Reals, cost: Reals, *, renew: Renew, site_currency: float
) -> Offer:
    """What may be renewed, and what that is worth."""
    sites = sites_of(runs, site_least_m=renew.site_least_m)
    own = cost[runs.row]
    pays = benefit[runs.row] - own if renew.paying_only else benefit[runs.row]
    site_value = -site_currency if renew.paying_only else 0.0
    return Offer(runs, sites, pays, own, site_value, site_currency)


def settled(offer: Offer, chosen: Flags, benefit: Reals, bound_currency: float) -> Chosen:
    """The choice without sites that are worth nothing, its sums, and how far below the bound on the
    best it lies."""
    number = site_numbers(offer.runs, chosen)
    worth = np.bincount(number[chosen], offer.value[chosen], minlength=1) + offer.site_value
    kept = chosen & (worth[np.maximum(number, 0)] > 0)
    value, spent = offer.worth(kept)
    site = np.full(len(benefit), -1, dtype=np.int64)
    site[offer.runs.row] = site_numbers(offer.runs, kept)
    gap = max(bound_currency - value, 0.0) / value if value > 0 else 0.0
    return Chosen(site, spent, float(benefit[site >= 0].sum()), gap)


def selection_of(scored: Scored, runs: Runs, chosen: Chosen, *, settings: Settings) -> Selection:
    """Table RENEWAL_PROJECTS, a row a site, those with the best return first, and the project of
    each main."""
    renew, currency = settings.renew, settings.district.currency
    table = scored.table
    cost = table["renewal_currency"].fillna(0.0).to_numpy(dtype=float)
    benefit = table["benefit_currency"].to_numpy(dtype=float)
    # In the order of the run, so that its mains are named as they lie.
    places: dict[int, list[int]] = {}
    for place, row in enumerate(runs.row):
        if chosen.site[row] >= 0:
            places.setdefault(int(chosen.site[row]), []).append(place)
    rows_of = {n: runs.row[np.array(at)] for n, at in places.items()}
    returns = {
        n: round(float(benefit[r].sum() / (cost[r].sum() + renew.site_currency)), _PLACES)
        for n, r in rows_of.items()
        if cost[r].sum() + renew.site_currency > 0
    }
    names = table["pipe_id"].astype(str).to_numpy()
    ranked = sorted(
        rows_of, key=lambda n: (-returns.get(n, np.inf), natural_key(names[rows_of[n][0]]))
    )
    of_pipe = pd.Series("", index=pd.Index(names, name="pipe_id"), dtype=object)
    rows, dear = [], []
    for rank, number in enumerate(ranked, 1):
        here = rows_of[number]
        of_pipe.iloc[here] = f"R{rank}"
        # Without a street by its own first pipe: that of the run may lie elsewhere, and stay.
        named = bool(table["street"].iloc[here[0]])
        street = runs.name[places[number][0]] if named else names[here[0]]
        rows.append({"project_id": f"R{rank}", "rank": rank, "street": street})
        rows[-1].update(_described(scored, here, renew))
        dear.append(dear_because(table.iloc[here], currency=currency))
    projects = typed(pd.DataFrame(rows), RENEWAL_PROJECTS) if rows else _none()
    projects["said"] = [
        project_said(row, dear=why, horizon_years=renew.horizon_years, currency=currency)
        for row, why in zip(projects.to_dict("records"), dear, strict=True)
    ]
    return Selection(
        projects.drop(columns="kept_share"),
        of_pipe,
        chosen.spent_currency,
        chosen.benefit_currency,
        chosen.gap_share,
    )


def _none() -> pd.DataFrame:
    return typed(pd.DataFrame({"project_id": pd.Series([], dtype=object)}), RENEWAL_PROJECTS)


def _described(scored: Scored, here: Wholes, renew: Renew) -> dict[str, object]:
    own = scored.table.iloc[here]
    site = scored.mains.site_draws(renew.site_currency, renew.cost_spread_share)
    cost_draws = scored.cost_draws[here].sum(axis=0, dtype=float) + site
    benefit_draws = scored.benefit_draws[here].sum(axis=0, dtype=float)
    cost = float(own["renewal_currency"].sum()) + renew.site_currency
    benefit = float(own["benefit_currency"].sum())
    found: dict[str, object] = {
        "cell_ids": ", ".join(natural(c for c in own["cell_id"] if c)),
        "pipe_ids": ", ".join(own["pipe_id"].astype(str)),
        "pipes_count": len(own),
        "length_m": own["length_m"].sum(),
        "materials": ", ".join(natural(m for m in own["material"] if m)),
        "breaks_count": own["breaks_count"].sum(),
    }
    amounts = {
        "breaks_per_year": (
            own["breaks_per_year"].sum(),
            scored.mains.rate_draws[here].sum(axis=0, dtype=float),
        ),
        "risk_currency_year": (
            own["risk_currency_year"].sum(),
            scored.risk_draws[here].sum(axis=0, dtype=float),
        ),
        "cost_currency": (cost, cost_draws),
        "benefit_currency": (benefit, benefit_draws),
    }
    if cost > 0:
        amounts["benefit_cost_index"] = (benefit / cost, benefit_draws / cost_draws)
    for name, (middle, draws) in amounts.items():
        low, high = limits(draws[None], [middle])
        found |= {name: middle, f"{name}_low": low[0], f"{name}_high": high[0]}
    return found
