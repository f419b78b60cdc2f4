"""Minimum night flow and leakage by seven nights, week, month, quarter and year.

The rule (UKWIR report 99/WM/08/21, from its abstract): leakage rests on the 20th percentile of
each night's lowest rolling hour over the last seven days, and a month's or year's figure is the
mean of the days that have one. A low percentile keeps out nights with unusual use, and so lies
below the mean of noisy nights even if nothing is unusual: by 0.68 of their standard deviation
(normal order statistics of seven), and a lowest hour lies below the window's mean besides. How
much of that is noise and how much unusual use is not known; so the limits hold both the rule's
figure and the plain mean of the same nights, each with its own uncertainty.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import days_of, long, wide
from district.balance.night import NightBalance
from district.balance.noise import LEAST_PAIRS, night_scatter_l_s
from district.balance.summary import usable_nights
from district.estimates import Z_95, Array, Estimate
from district.schema.night_tables import NIGHT_PERIODS, SEVEN_NIGHTS

NIGHTS = 7
LEAST_NIGHTS = 4
"""Fewer nights of seven tell no percentile."""
PERCENTILE = 0.2
PERIODS: dict[str, Callable[[pd.DatetimeIndex], list[str]]] = {
    "week": lambda days: [f"{y}-W{w:02d}" for y, w, _ in map(_iso, days)],
    "month": lambda days: list(days.strftime("%Y-%m")),
    "quarter": lambda days: [f"{d.year}-Q{d.quarter}" for d in days],
    "year": lambda days: list(days.strftime("%Y")),
}
"""Kind of period -> its name by local date. A season is a quarter of the calendar year."""


@dataclass(frozen=True, eq=False)
class _Nightly:
    """One figure by night; nights x cells, NaN where not measured or with works, L/s."""

    plain: Array
    """As the night balance has it."""
    lowest: Array
    """The lowest rolling hour, and `less` what the figure takes off it."""
    less: Array
    systematic: Array
    random: Array

    def rule(self) -> Array:
        """By the last seven nights."""
        low = _rolling(self.lowest).quantile(PERCENTILE) - _rolling(self.less).mean()
        return np.asarray(low.to_numpy(dtype=float))


def seven_nights(night: NightBalance, *, cells: pd.Index[Any]) -> pd.DataFrame:
    """Table SEVEN_NIGHTS: for each cell and night the rule's figures over the seven up to it.

    Nights with works or without inflow are left out; with fewer than four of the seven there are
    no figures. `night` as `night_balance` gives it, `cells` those of the balance in its order.
    """
    days, minimum, leakage = _nightly(night, cells)
    known = pd.DataFrame(np.isfinite(minimum.plain).astype(float))
    count = known.rolling(NIGHTS, min_periods=1).sum().to_numpy(dtype=float)
    return long(
        cells,
        days,
        day="night",
        columns={
            "nights_count": count,
            "minimum_night_flow_l_s": _over_seven(minimum, count),
            "leakage_l_s": _over_seven(leakage, count),
        },
    )[list(SEVEN_NIGHTS.names())]


def night_periods(night: NightBalance, *, cells: pd.Index[Any]) -> pd.DataFrame:
    """Table NIGHT_PERIODS: each cell by ISO week, month, quarter and year of the local date.

    A week's figure is that of its own seven nights, Monday to Sunday, or of those so far; a
    longer period's is the mean of its days' seven-night figures, which look back up to six
    nights before its first. Periods without such a figure are there, without figures.
    """
    days, minimum, leakage = _nightly(night, cells)
    parts = [
        _period(kind, named(days), days, cells, minimum, leakage) for kind, named in PERIODS.items()
    ]
    table = pd.concat(parts, ignore_index=True)[list(NIGHT_PERIODS.names())]
    kinds = table["period_kind"].map({k: i for i, k in enumerate(PERIODS)})
    return (
        table.assign(order=kinds)
        .sort_values(["cell_id", "order", "first"], kind="stable", ignore_index=True)
        .drop(columns="order")
    )


def _nightly(
    night: NightBalance, cells: pd.Index[Any]
) -> tuple[pd.DatetimeIndex, _Nightly, _Nightly]:
    """The nights, and nightly minimum flow and leakage with the rule's figures beside them."""
    days = days_of(night.nights["night"].iloc[: len(night.nights) // max(len(cells), 1)])
    flow = wide(night.nights, "minimum_night_flow_l_s", cells).astype(float)
    usable = usable_nights(night.nights, cells) & np.isfinite(flow)

    def known(frame: pd.DataFrame, name: str) -> Array:
        return np.where(usable, wide(frame, name, cells).astype(float), np.nan)

    flow, use = np.where(usable, flow, np.nan), known(night.nights, "legitimate_use_l_s")
    scatter = night_scatter_l_s(flow, usable=usable)
    # Too few nights to tell scatter from a change: all that differs counts as scatter.
    few = np.isfinite(np.diff(flow, axis=0)).sum(axis=0) < LEAST_PAIRS
    spread = pd.DataFrame(flow).std().fillna(0.0).to_numpy(dtype=float)
    scatter = np.where(few, spread, scatter)
    parts = []
    for name, plain, less in (
        ("minimum_night_flow", flow, np.where(usable, 0.0, np.nan)),
        ("leakage", known(night.nights, "leakage_l_s"), use),
    ):
        systematic = known(night.spreads, f"{name}_systematic_l_s")
        random = np.fmax(known(night.spreads, f"{name}_random_l_s"), scatter)
        random = np.where(usable, random, np.nan)
        parts.append(_Nightly(plain, flow, less, systematic, random))
    return days, parts[0], parts[1]


def _rolling(values: Array) -> Any:
    return pd.DataFrame(values).rolling(NIGHTS, min_periods=LEAST_NIGHTS)


def _over_seven(part: _Nightly, count: Array) -> Estimate:
    plain, systematic = (
        _rolling(x).mean().to_numpy(dtype=float) for x in (part.plain, part.systematic)
    )
    variance = _rolling(part.random**2).mean().to_numpy(dtype=float)
    return _both(part.rule(), plain, systematic, variance / np.maximum(count, 1.0))


def _both(rule: Array, plain: Array, systematic: Array, variance: Array) -> Estimate:
    """The rule's figure; limits that hold it and the plain mean."""
    half = Z_95 * np.sqrt(systematic**2 + variance)
    return Estimate(rule, np.minimum(rule, plain) - half, np.maximum(rule, plain) + half)


def _period(
    kind: str,
    names: list[str],
    days: pd.DatetimeIndex,
    cells: pd.Index[Any],
    minimum: _Nightly,
    leakage: _Nightly,
) -> pd.DataFrame:
    labels = pd.Index(names)
    span = pd.Series(days, index=labels).groupby(level=0)

    def by(values: Array, how: str = "mean") -> Array:
        groups = pd.DataFrame(values).groupby(labels)
        return np.asarray(groups.agg(how).to_numpy(dtype=float))

    count, days_count = by(minimum.plain, "count"), by(minimum.rule(), "count")
    if kind == "week":
        days_count = (count >= LEAST_NIGHTS).astype(float)
    figures: dict[str, Estimate] = {}
    for name, part in (("minimum_night_flow_l_s", minimum), ("leakage_l_s", leakage)):
        if kind == "week":
            low = pd.DataFrame(part.lowest).groupby(labels).quantile(PERCENTILE)
            rule = np.where(days_count > 0, low.to_numpy(dtype=float) - by(part.less), np.nan)
        else:
            rule = by(part.rule())
        variance = by(part.random**2) / np.maximum(count, 1.0)
        found = _both(rule, by(part.plain), by(part.systematic), variance)
        known = np.isfinite(rule) & (count > 0)
        figures[name] = Estimate(*(np.where(known, x, np.nan) for x in found))
    table = long(
        cells,
        pd.DatetimeIndex(span.min()),
        day="first",
        columns={"nights_count": count, "days_count": days_count, **figures},
    )
    return table.assign(
        period_kind=kind,
        period=np.tile(np.asarray(sorted(set(names)), dtype=object), len(cells)),
        last=np.tile(span.max().to_numpy(), len(cells)),
    )


def _iso(day: Any) -> tuple[int, int, int]:
    calendar = day.isocalendar()
    return int(calendar[0]), int(calendar[1]), int(calendar[2])
