"""What hangs on the valves, in words for the map: from the map alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from district.render.templates import row_dicts
from district.results import DistrictReport
from district.words import listed, missing, plural

_VALVES, _SEGMENTS = 6, 3
"""Valves named of a segment, and segments of a stretch, on a card."""


def shut_of_stretches(report: DistrictReport) -> dict[str, list[str]]:
    """Stretch -> for each segment it lies in what to shut, and who is dry then, a sentence each.

    A pipe without a likelihood is its own stretch. '... and more' where it lies in many.
    """
    found = report.isolation
    around = dict(zip(found.segments["segment_id"], found.segments["valves"], strict=True))
    lost = {str(row["segment_id"]): row for row in row_dicts(found.segment_losses)}
    parts = report.location.likelihood
    stretch = dict(zip(parts["pipe_id"], parts["stretch_id"], strict=True))
    own: dict[str, list[str]] = {}
    for pipe_id, segment in found.segment_pipes.itertuples(index=False):
        own.setdefault(str(stretch.get(pipe_id, pipe_id)), []).append(str(segment))
    said = {}
    for name, segments in own.items():
        each = [_shut(lost[s], around.get(s, "")) for s in dict.fromkeys(segments) if s in lost]
        beyond = ["and more: see district isolate"] if len(each) > _SEGMENTS else []
        said[name] = [*each[:_SEGMENTS], *beyond]
    return said


def failures_of_valves(valve_losses: pd.DataFrame) -> dict[str, str]:
    """Open valve -> what more is dry where it does not close; '' for none."""
    return {str(row["valve_id"]): _failing(row) for row in row_dicts(valve_losses)}


def _shut(row: Mapping[str, Any], valves: str) -> str:
    names = [v for v in str(valves or "").split(", ") if v]
    what = f"shut {listed(names, shown=_VALVES)}" if names else "no valve shuts it off"
    if not missing(row["sources"]):
        what += f", and source {row['sources']} at its works"
    dry = plural(int(row["dry_properties_count"]), "property", "properties")
    critical = int(row["dry_critical_count"])
    among = f", {plural(critical, 'critical user')} among them" if critical else ""
    return f"{what}: {dry} dry{among}"


def _failing(row: Mapping[str, Any]) -> str:
    if not missing(row["beside"]):
        return f"{row['beside']} at the same place instead"
    if missing(row["worst_for"]):
        return "nobody more is dry"
    more = plural(int(row["more_properties_count"]), "property", "properties")
    critical = int(row["more_critical_count"])
    among = f", {plural(critical, 'critical user')} among them" if critical else ""
    return f"up to {more} more dry{among}, for a break in the segment of {row['worst_for']}"
