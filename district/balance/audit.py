"""The audit: every figure with its inputs, and the datum to improve first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.balance.annual import DISTRICT, YEAR_D
from district.balance.audit_district import district_of_year
from district.balance.audit_leaves import cells_of_year
from district.balance.audit_night import DAILY, zone_figures
from district.balance.audit_rows import audit_rows
from district.balance.audit_year import REAL, year_figures
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.volumes import Volumes
from district.network import Network
from district.schema.audited import AUDIT, IMPROVEMENTS
from district.schema.columns import empty
from district.settings import Settings

NAMED = 5
"""Inputs of a headline worth naming."""
LEAST_SHARE = 0.01
"""An input with less of the variance than this is not worth improving."""


def audit_table(
    network: Network,
    *,
    layout: Metering,
    night: NightBalance,
    volumes: Volumes,
    pressures: pd.DataFrame,
    zones: pd.DataFrame,
    annual: pd.DataFrame,
    indicators: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """Table AUDIT: the district first, then the zones in the order of `zones`.

    Parameters: what `district_balance` works with and makes. The limits of each figure are the
    root of the summed squares of its rows' `lowers` and `raises`, the rule of `limits`; each row's
    are found by working the figure out with that input alone uncertain.
    """
    figures, inputs = zone_figures(
        network,
        layout=layout,
        night=night,
        volumes=volumes,
        pressures=pressures,
        zones=zones,
        settings=settings,
    )
    pieces = []
    tables = [audit_rows(list(layout.cells), figures, inputs=inputs)]
    if not annual.empty:
        cells = cells_of_year(
            network,
            layout=layout,
            night=night,
            volumes=volumes,
            pressures=pressures,
            annual=annual,
            settings=settings,
        )
        district = district_of_year(
            network, cells, layout=layout, volumes=volumes, annual=annual, settings=settings
        )
        for year in (district, cells):
            made = year_figures(year, annual, indicators)
            tables.append(audit_rows(year.areas, made, inputs=year.inputs))
    pieces = [t for t in tables if len(t)]
    if not pieces:
        return empty(AUDIT)
    return _in_order(pd.concat(pieces, ignore_index=True), [DISTRICT, *zones["cell_id"]])


def _in_order(table: pd.DataFrame, areas: Sequence[str]) -> pd.DataFrame:
    at = pd.Index(areas, dtype=object).get_indexer(table["cell_id"])
    return table.iloc[np.argsort(at, kind="stable")].reset_index(drop=True)


def improvements(audit: pd.DataFrame, *, named: int = NAMED) -> pd.DataFrame:
    """Table IMPROVEMENTS: for each place the inputs that widen its headline most.

    The headline of a zone is its daily leakage, of the district the year's real losses as a mean
    day. Were an input known exactly, the squares of what it does would leave the limits' squares.
    """
    district = (audit["cell_id"] == DISTRICT) & (audit["figure"] == REAL)
    rows = audit[district | ((audit["cell_id"] != DISTRICT) & (audit["figure"] == DAILY))]
    total = rows[rows["rank"] == 0].set_index("cell_id")
    causes = rows[(rows["rank"] > 0) & (rows["variance_share"] >= LEAST_SHARE)]
    causes = causes.sort_values("variance_share", ascending=False, kind="stable")
    causes = causes.assign(rank=causes.groupby("cell_id").cumcount() + 1.0)
    causes = causes[causes["rank"] <= named]
    if causes.empty:
        return empty(IMPROVEMENTS)
    scale = np.where(causes["cell_id"] == DISTRICT, 1.0 / YEAR_D, 1.0)
    value, low, high = (
        total[name].reindex(causes["cell_id"]).to_numpy(dtype=float)
        for name in ("value", "value_low", "value_high")
    )
    below, above = (
        np.sqrt(np.maximum(side**2 - causes[name].to_numpy(dtype=float) ** 2, 0.0))
        for side, name in ((value - low, "lowers"), (high - value, "raises"))
    )
    width = np.where(high > low, high - low, 1.0)
    table = causes.assign(
        leakage_m3_d=value * scale,
        leakage_m3_d_low=(value - below) * scale,
        leakage_m3_d_high=(value + above) * scale,
        narrower_share=np.clip(1.0 - (below + above) / width, 0.0, 1.0),
    )
    table = _in_order(table, list(dict.fromkeys(audit["cell_id"])))
    return table[list(IMPROVEMENTS.names())]
