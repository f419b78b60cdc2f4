"""The mains by street and by material: how long, how old, what breaks, what is listed."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.plan.drawn import limits
from district.plan.mains import Mains
from district.schema.columns import empty
from district.schema.renewal_tables import RENEWAL_GROUPS
from district.schema.typed import typed
from district.words import natural_key

NOT_KNOWN = "not known"
_BY = ("street", "material")


def renewal_groups(mains: Mains, listed: Any) -> pd.DataFrame:
    """Table RENEWAL_GROUPS: by street, then by material, the most breaks for each kilometre first.

    `listed` (N): whether each main is on the list.
    """
    parts = [_group(mains, np.asarray(listed, dtype=bool), by) for by in _BY]
    found = pd.concat(parts, ignore_index=True)
    return typed(found, RENEWAL_GROUPS) if len(found) else empty(RENEWAL_GROUPS)


def _group(mains: Mains, listed: Any, by: str) -> pd.DataFrame:
    named = mains.table[by].fillna("").astype(str).str.strip()
    name, at = np.unique(named.where(named != "", NOT_KNOWN).to_numpy(), return_inverse=True)
    count = len(name)

    def summed(amount: Any) -> Any:
        return np.bincount(at, np.asarray(amount, dtype=float), minlength=count)

    km = mains.real("length_m") / 1000
    length, rate = summed(km), summed(mains.real("breaks_per_year"))
    draws = np.zeros((count, mains.rate_draws.shape[1]))
    order = np.argsort(at, kind="stable")
    if len(order):
        first = np.searchsorted(at[order], np.arange(count))
        draws = np.add.reduceat(mains.rate_draws[order], first, axis=0, dtype=float)
    low, high = limits(draws, rate)
    known = np.where(length > 0, length, np.nan)
    aged = mains.table["age_year"].notna().to_numpy()
    found = pd.DataFrame(
        {
            "group": by,
            "name": name,
            "pipes_count": np.bincount(at, minlength=count),
            "length_km": length,
            "mean_age_year": summed(mains.real("age_year") * km)
            / np.where(summed(km * aged) > 0, summed(km * aged), np.nan),
            "exposure_km_year": summed(mains.real("exposure_km_year")),
            "breaks_count": summed(mains.real("breaks_count")),
            "breaks_per_year": rate,
            "breaks_per_year_low": low,
            "breaks_per_year_high": high,
            "breaks_per_100_km_year": 100 * rate / known,
            "breaks_per_100_km_year_low": 100 * low / known,
            "breaks_per_100_km_year_high": 100 * high / known,
            "listed_km": summed(km * listed),
            "cost_currency": summed(mains.real("renewal_currency") * listed),
        }
    )
    by_rate = -found["breaks_per_100_km_year"].fillna(0.0).round(9).to_numpy()
    ranked = sorted(range(count), key=lambda n: (by_rate[n], natural_key(str(name[n]))))
    return found.iloc[ranked]
