"""What the plan of renewal returns: frozen, tables only (`schema.renewal_tables`)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.errors import Finding
from district.results import Basis
from district.schema import renewal_tables
from district.schema.columns import empty

Draws = np.ndarray[Any, np.dtype[np.float32]]


@dataclass(frozen=True, eq=False)
class PipeRates:
    """Expected breaks of every main in use, and how they grow.

    `table`: PIPE_RATES, in order of pipe_id (its `rank` tells the order by rate); `year` of the
    plan; `draws`: shape (pipes, DRAWS), breaks a year that the rates may be instead, in the rows'
    order, drawn together over all pipes; `growth`: form of the growth with age; `growth_value` and
    `growth_draws` its one figure, a share by year for the exponential, a power of age for the
    power law, 0 for none. `plan.growth_factor` tells what these make of a rate some years ahead.
    """

    table: pd.DataFrame
    year: int
    draws: Draws
    growth: str
    growth_value: float
    growth_draws: Draws
    terms: pd.DataFrame = field(default_factory=lambda: empty(renewal_tables.FIT_TERMS))
    history: pd.DataFrame = field(default_factory=lambda: empty(renewal_tables.PIPE_HISTORY))
    basis: Basis = field(default_factory=Basis)


@dataclass(frozen=True, eq=False)
class Backtest:
    """Rankings as they would have been made at the start of `year`, held against what broke from
    then to `until`: BACKTEST, BACKTEST_CURVE, DECILES (of the later breaks), and what it says."""

    year: int
    until: float
    table: pd.DataFrame
    curve: pd.DataFrame
    deciles: pd.DataFrame
    said: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class Selection:
    """What one budget renews: RENEWAL_PROJECTS without kept_share, the project of each pipe by
    pipe_id ('' where none), what is spent, and how far the best may lie above its benefit."""

    projects: pd.DataFrame
    of_pipe: pd.Series[Any]
    spent_currency: float
    benefit_currency: float
    gap_share: float


@dataclass(frozen=True, eq=False)
class Renewal:
    """The plan of one year (`schema.renewal_tables.RENEWAL`), and the lines to draw it by.

    `lines`: pipe_id and geometry of the mains in use, one metric CRS. `backtest` where the record
    is long enough to hold a list against its last years, else None.
    """

    name: str
    currency: str
    year: int
    budget_currency: float
    rates: PipeRates
    pipes: pd.DataFrame
    projects: pd.DataFrame
    variants: pd.DataFrame
    years: pd.DataFrame
    groups: pd.DataFrame
    lines: gpd.GeoDataFrame
    survey_year: pd.DataFrame = field(default_factory=lambda: empty(renewal_tables.SURVEY_YEAR))
    zones: dict[str, str] = field(default_factory=dict)
    """What people call each zone, by cell_id."""
    backtest: Backtest | None = None
    said: tuple[str, ...] = ()
    """What a planner should know first, in sentences."""
    basis: Basis = field(default_factory=Basis)
    findings: tuple[Finding, ...] = ()
