"""Looking ahead: what the present meters and loggers would show of the leaks to come."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.results import DistrictReport
from district.words import EMPTY, brief, missing, percent, plural

DEVICE_WORDS = {"pressure_logger": "pressure logger", "zone_meter": "zone meter"}
"""Kind of a device to add -> words for people."""
CAUTION = (
    "Fitting a logger or meter means work in chambers, at hydrants and beside traffic, and for a "
    "meter a main out of service: leave it to trained and licensed people and the local rules for "
    "confined spaces, traffic and hygiene, and look to fire supply and critical users first."
)


def reach(report: DistrictReport) -> dict[str, Any]:
    """What would be shown of a leak to come, by zone: `sizes` (L/s, smallest first), `zones`
    (cell_id, the smallest leak shown in words, `by` what, `walks` by size: rows of ZONE_REACH or
    None), `nights` within which it is shown and `leak_l_s` the walks of the pipes are for."""
    pipes, walks = report.location.detectability, report.location.zone_reach
    sizes = sorted(set(walks["leak_l_s"].dropna().astype(float)))
    row_of = {
        (str(row["cell_id"]), float(row["leak_l_s"])): row for row in walks.to_dict("records")
    }
    parts = {str(cell): part for cell, part in pipes.groupby("cell_id", sort=False)}
    cells = list(dict.fromkeys([*report.balance.zones["cell_id"].astype(str), *sorted(parts)]))
    zones = []
    for cell in cells:
        walked = [row_of.get((cell, size)) for size in sizes]
        if cell in parts or any(walked):
            own = parts.get(cell, pipes.iloc[:0])
            zones.append(
                {
                    "cell_id": cell,
                    "smallest": smallest_shown(own["smallest_l_s"]),
                    "by": _by(own["shown_by"]),
                    "walks": walked,
                }
            )
    return {
        "sizes": [brief(size) for size in sizes],
        "zones": zones,
        "nights": _first(pipes, "nights_count"),
        "leak_l_s": _first(pipes, "leak_l_s"),
    }


def smallest_shown(sizes_l_s: pd.Series[Any]) -> str:
    """The smallest leak shown over several pipes, L/s, in words; NaN where none is shown.

    >>> smallest_shown(pd.Series([0.14, 0.6])), smallest_shown(pd.Series([0.14, 0.14, np.nan]))
    ('0.14 to 0.6', '0.14; none on 1 pipe part')
    """
    known = sizes_l_s.dropna().astype(float)
    if known.empty:
        return EMPTY
    low, high = brief(float(known.min())), brief(float(known.max()))
    span = low if low == high else f"{low} to {high}"
    dark = len(sizes_l_s) - len(known)
    return f"{span}; none on {plural(dark, 'pipe part')}" if dark else span


def devices(report: DistrictReport) -> list[dict[str, Any]]:
    """Rows of NEXT_DEVICES, best first, with the `device` and the `where` in words."""
    table = report.location.next_devices.sort_values("rank", kind="stable")
    return [
        {**row, "device": DEVICE_WORDS.get(row["kind"], row["kind"]), "where": where(row)}
        for row in table.to_dict("records")
    ]


def where(row: Any) -> str:
    """Where a device of NEXT_DEVICES goes, in words."""
    second = row["pipe_2_id"]
    if missing(second):
        return f"on {row['pipe_id']}"
    return f"on {row['pipe_id']}, with {second} metered or shut as well"


def _by(shown_by: pd.Series[Any]) -> str:
    """What shows a leak first, in words with its share of the pipe parts."""
    known = shown_by.fillna("").astype(str)
    counts = known[known != ""].value_counts()
    if counts.empty:
        return EMPTY
    if len(counts) == 1:
        return f"the {counts.index[0]}"
    return ", ".join(
        f"the {name} on {percent(float(number) / len(known), decimals=0)}"
        for name, number in counts.sort_index().items()
    )


def _first(table: pd.DataFrame, name: str) -> float | None:
    known = table[name].dropna() if name in table else table.get(name)
    return None if known is None or not len(known) else float(np.asarray(known)[0])
