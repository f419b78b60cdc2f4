"""What may make one pipe break more than another, as columns of a regression with priors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import sparse

from district.break_rates import BORE_POWER, BORE_SPREAD, Reals, bore_log
from district.words import natural

DISTRICT_SPREAD = 0.9
"""Spread of the logarithm of a district's level about the published mean: 95 % within a factor of
about 6. Assumption."""
BLOCKS = {"material": 0.5, "bore_class": 0.2, "ground": 0.3, "cell_id": 0.3}
"""Spread of the logarithm of a group's level about the rest, before the breaks tell it: groups of
pipes, and assumptions all of them. Published rates of materials differ by a factor of 2 between
two surveys of the same utilities (Folkman 2018), so that a district's may well."""
BLOCK_WEIGHT = 4.0
"""By how many groups' worth the breaks must speak before they outweigh these. Assumption."""
TERM_WORDS = {
    "district": "district",
    "bore": "bore",
    "material": "material",
    "bore_class": "class of bore",
    "ground": "ground",
    "cell_id": "zone",
    "growth": "growth with age",
    "unlike": "unlikeness of like pipes",
}


@dataclass(frozen=True, eq=False)
class Terms:
    """Columns of the regression: `matrix` (pipes, terms); `names` term and level of each; `mean`
    and `spread` of the prior of each; `block` its group of terms, -1 where its spread is given."""

    matrix: Any
    names: tuple[tuple[str, str], ...]
    mean: Reals
    spread: Reals
    block: Any


def terms_of(table: pd.DataFrame) -> Terms:
    """The terms of the pipes of table PIPE_HISTORY.

    The district as a whole, the logarithm of bore, and one column for each material, class of
    bore, ground and zone. A ground or zone counts where the pipes lie in two or more of them. All
    are drawn towards what is published, or towards nothing (partial pooling: Gelman et al.,
    Bayesian Data Analysis, 3rd ed., chapters 5 and 15; from memory).
    """
    count = len(table)
    parts = [
        sparse.csr_matrix(np.ones((count, 1))),
        sparse.csr_matrix(bore_log(table["diameter_mm"]).reshape(-1, 1)),
    ]
    names = [("district", ""), ("bore", "")]
    mean, spread, block = [0.0, -BORE_POWER], [DISTRICT_SPREAD, BORE_SPREAD / 1.96], [-1, -1]
    for number, (column, usual) in enumerate(BLOCKS.items()):
        said = table[column].fillna("").astype(str).to_numpy(dtype=object)
        levels = natural({s for s in said if s})
        if not levels or (column in ("ground", "cell_id") and len(levels) < 2):
            continue
        at = pd.Index(levels).get_indexer(pd.Index(said))
        rows = np.flatnonzero(at >= 0)
        shape = (count, len(levels))
        parts.append(sparse.csr_matrix((np.ones(len(rows)), (rows, at[rows])), shape=shape))
        names += [(column, level) for level in levels]
        mean += [0.0] * len(levels)
        spread += [usual] * len(levels)
        block += [number] * len(levels)
    return Terms(
        sparse.hstack(parts, format="csr"),
        tuple(names),
        np.array(mean),
        np.array(spread),
        np.array(block, dtype=np.int64),
    )


def pooled_spread(terms: Terms, value: Reals, variance: Reals) -> Reals:
    """The spread of each term's prior, as the terms of its block tell it.

    One step of the expectation-maximisation of a variance (Dempster, Laird & Rubin 1977, J Royal
    Statistical Society B 39, 1-38; from memory), held by `BLOCK_WEIGHT` at what was assumed.
    """
    spread = terms.spread.copy()
    for number, usual in enumerate(BLOCKS.values()):
        own = terms.block == number
        if own.any():
            told = float((value[own] ** 2 + variance[own]).sum()) + BLOCK_WEIGHT * usual**2
            spread[own] = np.sqrt(told / (own.sum() + BLOCK_WEIGHT))
    return spread
