"""Nights on which zone meters lack readings: what the others, the users and nearby nights say."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.equations import sides
from district.balance.metering import Metering
from district.balance.noise import SCATTER
from district.estimates import Array

NEARBY_NIGHTS = 15
LEAST_NEARBY = 5


def missing_flows(
    layout: Metering,
    flow_l_s: Array,
    *,
    use_l_s: Array,
    use_deviation_l_s: Array,
) -> tuple[Array, Array]:
    """Flows of the missing meters, by weighted least squares, and the deviation of each cell.

    Every cell beside a missing meter is an equation: what its other meters bring, less its use,
    is what the missing one brings and the leakage of nearby nights (their median, with their
    scatter). A meter is estimated only where both its cells can say so: a cell whose inlet from
    the source is missing would be told its own usual leakage. Where one meter between two cells
    is all that is missing, the leakage of the two together is as measured, whatever the estimate.

    Parameters: `flow_l_s` nights x meters, NaN where missing; `use_l_s` and the deviation of the
    use from night to night, nights x cells. Returns nights x meters with estimates filled in (NaN
    where there is none), and nights x cells the standard deviation that they add.
    """
    upstream, downstream = sides(layout)
    both_sides = (upstream >= 0) & (downstream >= 0)
    empty = np.isnan(flow_l_s)
    filled, added = flow_l_s.copy(), np.zeros(use_l_s.shape)
    nights = np.flatnonzero((empty & both_sides).any(axis=1))
    if not len(nights):
        return filled, added
    signs = layout.signs.toarray()
    lacking = (np.abs(signs) @ empty.T.astype(float)).T > 0
    net = (signs @ np.nan_to_num(flow_l_s).T).T
    left = np.where(lacking, np.nan, net - use_l_s)
    usual, scatter = _nearby(left)
    spread = np.hypot(scatter, use_deviation_l_s)
    for night in nights:
        lost = empty[night]
        able = np.isfinite(usual[night]) & ~(np.abs(signs)[:, lost & ~both_sides].sum(axis=1) > 0)
        wanted = lost & both_sides
        wanted &= able[upstream] & able[downstream]
        # A cell with another missing meter that cannot be estimated says nothing.
        while True:
            unsaid = np.abs(signs)[:, lost & ~wanted].sum(axis=1) > 0
            kept = wanted & ~unsaid[upstream] & ~unsaid[downstream]
            if (kept == wanted).all():
                break
            wanted = kept
        at = np.flatnonzero(wanted)
        if not len(at):
            continue
        cells = np.flatnonzero(np.abs(signs[:, at]).sum(axis=1) > 0)
        a = signs[np.ix_(cells, at)]
        weight = 1 / np.maximum(spread[night, cells], 1e-6)
        # What each cell lacks: its use and usual leakage, less what its known meters bring.
        lacks = usual[night, cells] + use_l_s[night, cells] - net[night, cells]
        solved, _, rank, _ = np.linalg.lstsq(a * weight[:, None], lacks * weight, rcond=None)
        if rank < len(at):
            continue
        filled[night, at] = solved
        covariance = np.linalg.inv((a * weight[:, None] ** 2).T @ a)
        added[night, cells] = np.sqrt(np.einsum("ij,jk,ik->i", a, covariance, a))
    return filled, added


def _nearby(left: Array) -> tuple[Array, Array]:
    """Median over nearby nights of what is known, and their scatter; NaN where too few are."""
    frame = pd.DataFrame(left)
    near: Any = frame.rolling(2 * NEARBY_NIGHTS + 1, center=True, min_periods=LEAST_NEARBY)
    middle = near.median()
    apart = (frame - middle).abs()
    around: Any = apart.rolling(2 * NEARBY_NIGHTS + 1, center=True, min_periods=LEAST_NEARBY)
    return middle.to_numpy(dtype=float), SCATTER * around.median().to_numpy(dtype=float)
