"""Where along a stretch: from which of its ends, which piece to walk, in plain words."""

from __future__ import annotations

from math import atan2, degrees, hypot
from typing import Any

import geopandas as gpd
from shapely import get_parts

from district.render.stretches import likeliest_told
from district.results import DistrictReport
from district.words import EMPTY, figure, listed, missing

_COMPASS = (
    "east",
    "north-east",
    "north",
    "north-west",
    "west",
    "south-west",
    "south",
    "south-east",
)
_CLOSED_SHARE = 0.1
_NAMES = 2


def starts_in_words(report: DistrictReport, drawn: gpd.GeoDataFrame) -> dict[str, str]:
    """Stretch -> the end its metres are counted from: 'its west end, where P309 meets it'.

    Parameters: `drawn` as `drawn_stretches` gives it. The points of the compass are those of the
    map's grid. A stretch that comes back to where it began is counted as it is drawn.
    """
    meeting = _meeting(report)
    said = {}
    for row in drawn.itertuples():
        if row.geometry is None or row.geometry.is_empty:
            continue
        first, last = _ends(row.geometry)
        there = meeting.get(_node(first), set()) - {row.stretch_id}
        end = _compass(first, last, row.geometry.length)
        where = f"where {listed(there, shown=_NAMES)} meet{'s' if len(there) == 1 else ''} it"
        said[str(row.stretch_id)] = f"its {end}" + (f", {where}" if there else "")
    return said


def likeliest_place(row: Any, start: str) -> str:
    """How far along it the leak is if it is on this stretch, or that nothing tells it; '' where
    the row (of STRETCHES) does not say."""
    if missing(row.get("along_m")):
        return ""
    if not likeliest_told(row):
        return "anywhere along it"
    told = figure(row["along_m"], row["along_m_low"], row["along_m_high"], "along_m")
    return f"{told} from {start or 'its start as drawn'}"


def piece_to_walk(row: Any, start: str) -> str:
    """The piece of a stretch that is walked: 'from 12 m to 48 m of 160 m, from its west end'.

    'all of it' where that is most of it to a metre, '-' where it is not to be walked.
    """
    low, high, length = row.get("from_m"), row.get("to_m"), row.get("length_m")
    if missing(low) or missing(high) or missing(length):
        return EMPTY
    if low < 1 and length - high < 1:
        return "all of it"
    return (
        f"from {low:.0f} m to {high:.0f} m of {length:.0f} m, counted from "
        f"{start or 'its start as drawn'}"
    )


def _meeting(report: DistrictReport) -> dict[tuple[int, int], set[str]]:
    """Point -> the stretches whose parts end there."""
    found = report.location.likelihood
    stretch = dict(zip(found["pipe_id"], found["stretch_id"], strict=True))
    meeting: dict[tuple[int, int], set[str]] = {}
    for pipe in report.layers.pipes.itertuples():
        if pipe.geometry is None or pipe.geometry.is_empty:
            continue
        for end in _ends(pipe.geometry):
            name = str(stretch.get(pipe.pipe_id, pipe.pipe_id))
            meeting.setdefault(_node(end), set()).add(name)
    return meeting


def _ends(line: Any) -> tuple[Any, Any]:
    parts = get_parts(line)
    return parts[0].coords[0], parts[-1].coords[-1]


def _node(point: Any) -> tuple[int, int]:
    return round(point[0] * 10), round(point[1] * 10)


def _compass(first: Any, last: Any, length_m: float) -> str:
    east, north = first[0] - last[0], first[1] - last[1]
    if hypot(east, north) < _CLOSED_SHARE * length_m:
        return "start as drawn"
    return f"{_COMPASS[round(degrees(atan2(north, east)) / 45) % 8]} end"
