"""Real losses top-down beside bottom-up, and what would explain where they part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import BOTTOM_UP
from district.balance.gap_causes import closing_values
from district.balance.gap_scene import Scene
from district.balance.grids import in_columns
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.performance import lines_of
from district.balance.volumes import Volumes
from district.balance.year import counted_days
from district.estimates import Z_95, Estimate, combine_limits
from district.schema.annual_tables import GAP_CAUSES, LOSS_GAPS
from district.schema.columns import empty
from district.settings import Settings
from district.words import brief, listed


def explain_gap(
    annual: pd.DataFrame,
    *,
    layout: Metering,
    volumes: Volumes,
    night: NightBalance,
    night_flows: pd.DataFrame,
    settings: Settings,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables LOSS_GAPS and GAP_CAUSES of the areas of table ANNUAL.

    Parameters: `layout` from `metering`, `night_flows` table NIGHT_FLOWS. The limits of the gap
    take the two ways as independent: they share the zone meters alone, whose error moves both the
    same way, so the limits are rather too wide than too narrow. An area without a usable night has
    no gap and no causes; nor has the district where a zone has none, for its nights are then the
    sum of fewer zones than its balance is.
    """
    if annual.empty:
        return empty(LOSS_GAPS), empty(GAP_CAUSES)
    areas = annual["cell_id"].unique()
    lines = lines_of(annual)
    top, bottom = lines["real losses"], lines[BOTTOM_UP]
    lacking = areas[1:][np.isnan(bottom.value[1:])]
    alike = np.array([not len(lacking), *np.ones(len(areas) - 1, dtype=bool)])
    gap = Estimate(
        *(np.where(alike, x, np.nan) for x in combine_limits(top, bottom, signs=(1, -1)))
    )
    counted = counted_days(volumes)
    scene = Scene(
        layout,
        volumes,
        night,
        night_flows,
        counted,
        counted.any(axis=0),
        lines,
        gap.value,
        settings,
    )
    causes = ranked(closing_values(scene).assign(cell_id=lambda f: areas[f["area"]]))
    agrees = (gap.low <= 0) & (gap.high >= 0)
    best = causes[causes["rank"] == 1].set_index("cell_id")
    table: dict[str, Any] = {"cell_id": areas}
    table |= in_columns({"top_down_m3": top, "bottom_up_m3": bottom, "gap_m3": gap})
    table["agrees"] = pd.Series(agrees, dtype="boolean").mask(np.isnan(gap.value))
    table["statement"] = [
        statement(
            Estimate(*(p[i] for p in gap)),
            cause=best.loc[area].to_dict() if area in best.index else None,
            lacking=[] if i else list(lacking),
        )
        for i, area in enumerate(areas)
    ]
    return pd.DataFrame(table)[list(LOSS_GAPS.names())], causes


def ranked(causes: pd.DataFrame) -> pd.DataFrame:
    """Causes with their rank in each area: possible ones first, the fewest deviations first."""
    order = causes.assign(
        first=~causes["possible"].astype(bool), apart=causes["deviations_index"].fillna(np.inf)
    ).sort_values(["area", "first", "apart", "input"], ignore_index=True)
    order["rank"] = order.groupby("area").cumcount() + 1.0
    return order[list(GAP_CAUSES.names())]


def statement(
    gap_m3: Estimate, *, cause: dict[str, Any] | None, lacking: Sequence[str] = ()
) -> str:
    """What a gap (numbers, m3 a year) says, and the most plausible `cause`, a row of GAP_CAUSES.

    `lacking` are the zones without a usable night that the area is the sum of.
    """
    value, low, high = (float(x) for x in gap_m3)
    if np.isnan(value):
        where = f" in {listed(lacking)}" if lacking else ""
        return f"Not known: no usable night in the year{where}."
    if low <= 0 <= high:
        return "The two ways agree: the gap between them is within their limits."
    side = "more" if value > 0 else "less"
    said = (
        f"The balance finds {brief(abs(value))} m³ a year {side} than the "
        "nights do, beyond the limits of both."
    )
    if cause is None or not cause["possible"] or np.isnan(cause["deviations_index"]):
        return f"{said} No single input can close it."
    would = (
        f"{cause['input']}, {brief(cause['closing_value'])} {cause['unit']} in place of "
        f"{brief(cause['value'])}"
    )
    if cause["deviations_index"] > Z_95:
        return f"{said} No single input closes it within its own limits; nearest is {would}."
    return f"{said} Most plausible: {would}."
