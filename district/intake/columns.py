"""The user's column names brought to ours, and what stands in where a column is empty."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from district.errors import Finding
from district.schema.columns import Table
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import RECORDS
from district.settings import FILE
from district.words import closest

_SHAPEFILE_NAME = 10
"""A shapefile cuts column names to this."""
_UNSTATED = {
    ("zones", "name"): "the zone_id",
    ("meters", "reading_unit"): "m3 for registers, l/s for rates, pulses for pulse meters",
    ("sensors", "reading_unit"): "m of water for pressure, m for levels, none for the others",
    ("surveys", "detection_share"): "by method and material",
    ("step_tests", "spread_l_s"): "2 % of the flow, and the steps in which the meter counts",
    ("correlations", "length_m"): "along the pipes of the map",
    ("correlations", "wave_speed_m_s"): "by material",
}


def named(
    frame: pd.DataFrame,
    table: Table,
    columns: Mapping[str, str],
    *,
    source: str,
    short: bool = False,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The frame with our names, by the user's `columns` (ours = theirs) or any capitals.

    Some formats turn capitals into small letters, so those never matter. With `short`, names cut
    to ten letters by a shapefile are known too. A column the user names but the file lacks is a
    finding.
    """
    findings: list[Finding] = []
    present = [str(c) for c in frame.columns]
    ours: dict[str, str] = {}
    any_capitals = {c.lower(): c for c in reversed(present)}
    for name, theirs in columns.items():
        found = theirs if theirs in present else any_capitals.get(theirs.lower())
        if found is not None:
            ours[name] = found
            continue
        section = "records" if table in (*RECORDS, ENTRY_FORM) else "layers"
        findings.append(
            Finding(
                "error",
                source,
                column=theirs,
                got=f"no such column{closest(theirs, present)}",
                expected=f"the column named as {name} in {FILE}",
                remedy=f"Correct it under [{section}.{table.name}.columns]",
            )
        )
    taken = set(ours.values())
    lower = {c.lower(): c for c in reversed(present) if c not in taken}
    for name in table.names():
        if name in ours or name in columns:
            continue
        found = lower.get(name) or (lower.get(name[:_SHAPEFILE_NAME]) if short else None)
        if found is not None:
            ours[name] = found
    return pd.DataFrame({n: frame[t] for n, t in ours.items()}, index=frame.index), findings


def defaults_used(frame: pd.DataFrame, table: Table) -> list[dict[str, Any]]:
    """One row a column whose default stands in for what the user left empty."""
    used = []
    for column in table.columns:
        value = column.default
        if value is None:
            value = _UNSTATED.get((table.name, column.name))
        if value is None:
            continue
        if column.name in frame.columns:
            said = frame[column.name]
            count = int((said.isna() | (said.astype(str).str.strip() == "")).sum())
        else:
            count = len(frame)
        if count:
            used.append(
                {
                    "table": table.name,
                    "column": column.name,
                    "rows_count": count,
                    "value": _written(value),
                }
            )
    return used


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else str(value)
