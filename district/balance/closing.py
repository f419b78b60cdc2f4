"""Whether night and day of the recent record agree in every cell, meters' errors considered.

The leakage of a cell is free, but the same leak has to explain night and day: day less k times
night, with k the night-to-day factor over 24 h, is what errors of meters and of use leave over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import chdtri

from district.balance.equations import Equations
from district.balance.grids import wide
from district.balance.meter_errors import error_l_s
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.reconcile import likelihood_ratios
from district.balance.volumes import M3_D_PER_L_S, Volumes
from district.estimates import Z_95, Array

LEAST_DAYS = 7


@dataclass(frozen=True, eq=False)
class Closing:
    """The recent record reconciled; arrays over meters or cells, NaN where it cannot be.

    `flow_*` of the meters as read, with its deviation, and reconciled; `checked_share` the part
    of a meter's variance that the equations take away; `meter_index` its likelihood ratio, with
    `off_share` and its deviation as if it alone were wrong. `leakage_*` of the cells by night,
    `zone_index` the likelihood ratio of a wrong use. Flows in L/s.
    """

    days_count: int
    flow_l_s: Array
    flow_deviation_l_s: Array
    reconciled_l_s: Array
    reconciled_deviation_l_s: Array
    checked_share: Array
    meter_index: Array
    off_share: Array
    leakage_l_s: Array
    leakage_deviation_l_s: Array
    reconciled_leakage_l_s: Array
    reconciled_leakage_deviation_l_s: Array
    zone_index: Array
    residual_l_s: Array
    statistic_index: float
    freedom_count: int
    critical_index: float
    """Of the global test at 5 %."""
    one_critical_index: float
    """Of each meter and cell, at 1 % for all of them together (Bonferroni)."""


def closing(
    known: Equations,
    layout: Metering,
    *,
    night: NightBalance,
    volumes: Volumes,
    factor_deviation_share: Array,
    recent_days: int,
) -> Closing:
    """Reconcile the means of the last `recent_days` days.

    `factor_deviation_share` is the standard deviation of k, by cell. Every meter's error is one
    share for night and day; allowances of night and of day are independent of each other.
    """
    last = slice(-recent_days, None)
    by_night, by_day = known.night_l_s[last], known.day_l_s[last]
    both = np.isfinite(by_night) & np.isfinite(by_day)
    usable = both.sum(axis=0) >= LEAST_DAYS
    left_night, left_day = (_means(v, both) for v in (by_night, by_day))
    q_night, q_day = (_means(v[last]) for v in (known.night_flow_l_s, known.day_flow_l_s))
    e_night, e_day = (error_l_s(np.nan_to_num(q), layout.errors) / Z_95 for q in (q_night, q_day))
    signs = layout.signs.toarray()
    k = known.factor_share
    # A share too high makes a negative flow more negative.
    at_night = signs * np.copysign(e_night, np.nan_to_num(q_night))
    signature = signs * np.copysign(e_day, np.nan_to_num(q_day)) - k[:, None] * at_night
    u_night, u_day = _use_deviations(layout, night, volumes)
    scatter = np.where(both, by_day - k * by_night, np.nan)
    count = np.maximum(both.sum(axis=0), 1)
    random = _deviations(scatter) ** 2 / count
    own = (k * u_night) ** 2 + u_day**2 + random
    own += (factor_deviation_share * np.nan_to_num(left_night)) ** 2
    at = np.flatnonzero(usable)
    s, n = signature[at], at_night[at]
    h = s @ s.T + np.diag(np.maximum(own[at], 1e-12))
    residual = (left_day - k * left_night)[at]
    solved = np.linalg.solve(h, np.column_stack([residual, s])) if len(at) else np.zeros((0, 1))
    adjusted = s.T @ solved[:, 0]
    checked = np.einsum("ij,ij->j", s, solved[:, 1:]) if len(at) else np.zeros(len(e_day))
    ratios, sizes = likelihood_ratios(residual, covariance=h, signatures=s)
    zones, _ = likelihood_ratios(residual, covariance=h, signatures=np.eye(len(at)))
    # Leakage errs with the meters by night and with the use of the night.
    shared = -n @ s.T + np.diag(k[at] * u_night[at] ** 2)
    before = (n**2).sum(axis=1) + u_night[at] ** 2 + _deviations(by_night)[at] ** 2 / count[at]
    gained = np.einsum("ij,ji->i", shared, np.linalg.solve(h, shared.T))
    after = np.maximum(before - gained, 0.0)
    share = e_day / np.where(np.abs(q_day) > 0, np.abs(q_day), np.nan)
    tests = max(len(at) + len(e_day), 1)
    return Closing(
        days_count=int(both.any(axis=1).sum()),
        flow_l_s=q_day,
        flow_deviation_l_s=e_day,
        reconciled_l_s=q_day - np.copysign(e_day, np.nan_to_num(q_day)) * adjusted,
        reconciled_deviation_l_s=e_day * np.sqrt(np.maximum(1 - checked, 0.0)),
        checked_share=checked,
        meter_index=ratios,
        off_share=sizes * share,
        leakage_l_s=left_night,
        leakage_deviation_l_s=_spread(len(k), at, np.sqrt(before)),
        reconciled_leakage_l_s=left_night + _spread(len(k), at, shared @ solved[:, 0]),
        reconciled_leakage_deviation_l_s=_spread(len(k), at, np.sqrt(after)),
        zone_index=_spread(len(k), at, zones),
        residual_l_s=_spread(len(k), at, residual),
        statistic_index=float(residual @ solved[:, 0]),
        freedom_count=len(at),
        critical_index=float(chdtri(max(len(at), 1), 0.05)),
        one_critical_index=float(chdtri(1, 0.01 / tests)),
    )


def _use_deviations(layout: Metering, night: NightBalance, volumes: Volumes) -> tuple[Array, Array]:
    systematic = wide(night.spreads, "legitimate_use_systematic_l_s", layout.cells)
    by_night = _means(systematic)
    users = volumes.devices
    use = volumes.user_m3.mean(axis=0) if len(volumes.user_m3) else np.zeros(len(users.ids))
    metered = users.inside @ (use * users.error_share / Z_95) ** 2
    by_day = np.sqrt(metered + volumes.unmetered.systematic**2) / M3_D_PER_L_S
    return np.nan_to_num(by_night), by_day


def _means(values: Array, counted: Any = None) -> Array:
    there = np.isfinite(values) if counted is None else counted
    count = there.sum(axis=0)
    total = np.where(there, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _deviations(values: Array) -> Array:
    """Standard deviation of what is known of each column; 0 with fewer than two."""
    there = np.isfinite(values)
    apart = np.where(there, values - _means(values), 0.0)
    return np.asarray(np.sqrt((apart**2).sum(axis=0) / np.maximum(there.sum(axis=0) - 1, 1)))


def _spread(count: int, at: Any, values: Array) -> Array:
    filled = np.full(count, np.nan)
    filled[at] = values
    return filled
