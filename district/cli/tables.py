"""Tables for people: zones, devices, the score; units in the headings."""

from __future__ import annotations

import math
from collections.abc import Collection

import pandas as pd
from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, titled
from district.schema.stored import FEW_READINGS
from district.words import percent, rounded, whole

SHOWN = 10
MEASURES = {
    "nights_within_limits": "nights with the truth within limits",
    "median_limits_width_l_s": "median width of the limits, L/s",
    "leaks_in_search_set": "running leaks in their 90 % set",
    "search_before_leak_m": "metres walked before the leak",
    "mean_search_share": "mean share of the zone walked",
}
"""Measures of `simulate.score` in words."""


def devices_table(quality: pd.DataFrame) -> Table:
    """The devices whose record lacks most, of those read often enough to have a share."""
    quality = quality[quality["expected_count"] >= FEW_READINGS]
    lost = quality["missing_share"].fillna(0.0) + quality["unusable_share"].fillna(0.0)
    order = lost[lost > 0].sort_values(ascending=False, kind="stable").index
    table = titled(
        "Readings lost, worst first",
        "Device",
        "File",
        "Missing\n%",
        "Unusable\n%",
        left=2,
    )
    for row in quality.loc[order].head(SHOWN).itertuples():
        table.add_row(
            Text(str(row.device_id)),
            Text(str(row.source)),
            rounded(row.missing_share, name="missing_share")[0],
            rounded(row.unusable_share, name="unusable_share")[0],
        )
    return table


def zones_table(zones: pd.DataFrame, shifted: Collection[str] = ()) -> Table:
    """Zones worst first, those in `shifted` with an asterisk."""
    table = titled(
        "Zones, worst first (95 % limits beneath each figure)",
        "Zone",
        "Inflow\nm³/day",
        "Minimum\nnight flow\nL/s",
        "Legitimate\nnight use\nL/s",
        "Excess\nnight flow\nL/s",
        "Leakage\nL/connection\na day",
        "Leakage\nindex",
    )
    for row in zones.itertuples():
        star = " *" if row.cell_id in shifted else ""
        own = "" if row.name == row.cell_id else f"\n{row.cell_id}"
        table.add_row(
            Text(f"{row.name}{star}{own}"),
            estimate(row, "inflow_m3_d"),
            estimate(row, "minimum_night_flow_l_s"),
            estimate(row, "legitimate_use_l_s"),
            estimate(row, "excess_l_s"),
            estimate(row, "leakage_l_connection_d"),
            "not valid" if row.index_note else estimate(row, "leakage_index"),
        )
    return table


def score_table(measures: pd.DataFrame) -> Table:
    """The comparison with the truth."""
    table = Table(title="Against truth.csv", title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
    for heading in ("Measure", "Value", "Of", "Share", "Note"):
        table.add_column(heading, justify="left" if heading in ("Measure", "Note") else "right")
    for row in measures.itertuples(index=False):
        table.add_row(
            MEASURES.get(row.measure, row.measure),
            _counted_or_rounded(row.value),
            _counted_or_rounded(row.of),
            "-" if math.isnan(row.share) else percent(row.share, decimals=1),
            Text(str(row.note)),
        )
    return table


def _counted_or_rounded(value: float) -> str:
    return whole(value) if float(value).is_integer() else rounded(value)[0]
