"""How the list changes where the discount rate, the costs or the budget are others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.plan.benefit import benefit_currency
from district.plan.mains import Mains
from district.plan.runs import Flags, Reals, Runs
from district.plan.selection import Chosen, choose
from district.renew_settings import Renew
from district.schema.renewal_tables import RENEWAL_VARIANTS
from district.schema.typed import typed
from district.words import percent

DISCOUNT_SHARE = 0.02
COST_SHARE = 0.25
"""By so much are the discount rate and costs changed, either way. Common practice, no source."""
LIST = "as set"


@dataclass(frozen=True)
class Variant:
    """What differs: the discount rate, and costs and budget as shares of those set."""

    name: str
    discount_share: float
    renewal_share: float = 1.0
    break_share: float = 1.0
    budget_share: float = 1.0


def variants_of(renew: Renew) -> tuple[Variant, ...]:
    """The list itself and what it is held against; the budget's come last."""
    set_at = renew.discount_share
    low, high = max(set_at - DISCOUNT_SHARE, 0.0), set_at + DISCOUNT_SHARE
    by = percent(COST_SHARE)
    return (
        Variant(LIST, set_at),
        Variant(f"discount rate {percent(round(low, 6))}", low),
        Variant(f"discount rate {percent(round(high, 6))}", high),
        Variant(f"renewal {by} cheaper", set_at, renewal_share=1 - COST_SHARE),
        Variant(f"renewal {by} dearer", set_at, renewal_share=1 + COST_SHARE),
        Variant(f"breaks {by} cheaper", set_at, break_share=1 - COST_SHARE),
        Variant(f"breaks {by} dearer", set_at, break_share=1 + COST_SHARE),
        Variant("half the budget", set_at, budget_share=0.5),
        Variant("twice the budget", set_at, budget_share=2.0),
    )


def chosen_by_variant(
    mains: Mains, runs: Runs, *, renew: Renew, budget_currency: float
) -> list[tuple[Variant, Chosen]]:
    """What each variant renews, the list itself first."""
    found = []
    for variant in variants_of(renew):
        benefit = benefit_currency(
            mains,
            horizon_years=renew.horizon_years,
            discount_share=variant.discount_share,
            dearer_share=variant.break_share - 1.0,
        )
        chosen = choose(
            runs,
            benefit,
            mains.real("renewal_currency") * variant.renewal_share,
            renew=renew,
            budget_currency=budget_currency * variant.budget_share,
            site_currency=renew.site_currency * variant.renewal_share,
        )
        found.append((variant, chosen))
    return found


def variants_table(
    mains: Mains, found: list[tuple[Variant, Chosen]], *, budget_currency: float
) -> pd.DataFrame:
    """Table RENEWAL_VARIANTS."""
    length = mains.real("length_m")
    listed = found[0][1].renewed
    rows: list[Mapping[str, Any]] = []
    for variant, chosen in found:
        both = float(length[listed & chosen.renewed].sum())
        own = float(length[listed].sum())
        rows.append(
            {
                "variant": variant.name,
                "discount_share": variant.discount_share,
                "budget_currency": budget_currency * variant.budget_share,
                "spent_currency": chosen.spent_currency,
                "projects_count": int(chosen.site.max(initial=-1)) + 1,
                "length_m": float(length[chosen.renewed].sum()),
                "benefit_currency": chosen.benefit_currency,
                "same_length_share": both / own if own > 0 else np.nan,
                "gap_share": chosen.gap_share,
            }
        )
    return typed(pd.DataFrame(rows), RENEWAL_VARIANTS)


def kept_share(found: list[tuple[Variant, Chosen]]) -> Reals:
    """Share of the variants of rates and costs in which each main is renewed, shape (N): neither
    the list itself nor other budgets count."""
    renewed = [c.renewed for v, c in found[1:] if v.budget_share == 1.0]
    return np.asarray(np.mean(renewed, axis=0), dtype=float)


def kept_projects(
    mains: Mains, found: list[tuple[Variant, Chosen]], of_pipe: Any, project_ids: Any
) -> Reals:
    """Share of those variants that renew more than half the length of each of the works."""
    length = mains.real("length_m")
    kept = []
    for project in project_ids:
        own: Flags = np.asarray(of_pipe == project)
        whole = float(length[own].sum())
        most = [
            float(length[own & c.renewed].sum()) > whole / 2
            for v, c in found[1:]
            if v.budget_share == 1.0
        ]
        kept.append(float(np.mean(most)))
    return np.array(kept, dtype=float)
