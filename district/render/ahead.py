"""Looking ahead: what the present meters and loggers would show of the leaks to come."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd

from district.results import DistrictReport
from district.schema.located import DETECTABILITY, DEVICE_WORDS, NEXT_DEVICES
from district.words import EMPTY, brief, missing, percent, plural


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

    >>> smallest_shown(pd.Series([0.14, 0.6])), smallest_shown(pd.Series([0.14, 0.14, None]))
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
    stretch = _stretches(report)
    return [
        {
            **row,
            "device": DEVICE_WORDS.get(row["kind"], row["kind"]),
            "where": _where(row["pipe_id"], row["pipe_2_id"], stretch),
        }
        for row in table.to_dict("records")
    ]


def placed_devices(report: DistrictReport) -> gpd.GeoDataFrame:
    """What `devices` gives, as points in the middle of their pipes; one whose pipe is not on the
    map is left out."""
    pipes = report.layers.pipes.drop_duplicates("pipe_id").set_index("pipe_id").geometry
    names = [*NEXT_DEVICES.names(), "device", "where"]
    placed = pd.DataFrame(
        [d for d in devices(report) if d["pipe_id"] in pipes.index], columns=names
    )
    middle = pipes.loc[list(placed["pipe_id"])].interpolate(0.5, normalized=True)
    return gpd.GeoDataFrame(placed, geometry=list(middle), crs=report.layers.pipes.crs)


def by_stretch(report: DistrictReport) -> pd.DataFrame:
    """Rows of DETECTABILITY with their stretch_id, one each: of its parts the one on which least
    is shown, of several alike the one with the longest walk."""
    table = report.location.detectability.reindex(columns=list(DETECTABILITY.names()))
    ordered = table.sort_values(["smallest_l_s", "walk_m"], ascending=False, na_position="first")
    stretch = _stretches(report)
    named = [stretch.get(str(p), str(p)) for p in ordered["pipe_id"]]
    return ordered.assign(stretch_id=named).drop_duplicates("stretch_id")


def _stretches(report: DistrictReport) -> dict[str, str]:
    found = report.location.likelihood
    return {str(p): str(s) for p, s in zip(found["pipe_id"], found["stretch_id"], strict=True)}


def _where(pipe_id: Any, second_id: Any, stretch: dict[str, str]) -> str:
    def named(part: Any) -> str:
        whole = stretch.get(str(part), str(part))
        return whole if whole == str(part) else f"{whole} (its part {part})"

    also = "" if missing(second_id) else f", with {named(second_id)} metered or shut as well"
    return f"on {named(pipe_id)}{also}"


def _by(shown_by: pd.Series[Any]) -> str:
    """What shows a leak first, in words with its share of the pipe parts."""
    known = shown_by.fillna("").astype(str)
    counts = known[known != ""].value_counts()
    if counts.empty:
        return EMPTY
    if len(counts) == 1:
        return str(counts.index[0])
    return ", ".join(
        f"{name} on {percent(float(number) / len(known), decimals=0)}"
        for name, number in counts.sort_index().items()
    )


def _first(table: pd.DataFrame, name: str) -> float | None:
    known = table[name].dropna()
    return None if known.empty else float(known.iloc[0])
