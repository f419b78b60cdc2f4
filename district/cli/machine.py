"""Objects for machines: what `--json` prints."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pandas as pd

from district.cli.tables import SHOWN
from district.errors import Finding
from district.results import Basis, DistrictReport


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as objects, empty values as null, times as ISO 8601."""
    return [{k: _jsonable(v) for k, v in row.items()} for row in frame.to_dict("records")]


def _jsonable(value: Any) -> Any:
    if value is None or value is pd.NaT or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, datetime):
        # Local dates are kept as midnights without a zone; an instant keeps its time.
        whole = value.tzinfo is None and value.time() == time.min
        return value.date().isoformat() if whole else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return value.item() if hasattr(value, "item") else value


def findings_object(found: Sequence[Finding]) -> dict[str, Any]:
    """Findings for machines."""
    return {"findings": [{**vars(f), "sentence": f.sentence()} for f in found]}


def tables_object(tables: Mapping[str, pd.DataFrame], rests_on: Basis) -> dict[str, Any]:
    """Tables for machines, with what they rest on."""
    return {
        **{name: records(frame) for name, frame in tables.items()},
        "basis": {k: _jsonable(v) if isinstance(v, date) else v for k, v in vars(rests_on).items()},
    }


def report_object(report: DistrictReport, paths: Sequence[Path]) -> dict[str, Any]:
    """Everything `district report` says, for machines."""
    tables = {
        "zones": report.balance.zones,
        "events": report.events.events,
        "search_sets": report.location.search_sets,
        "stretches": report.location.stretches.head(SHOWN),
        "annual_balance": report.balance.annual,
        "indicators": report.balance.indicators,
    }
    return {
        "name": report.name,
        **tables_object(tables, report.balance.basis),
        **findings_object(report.findings),
        "files": [str(p) for p in paths],
    }


def to_json(thing: Mapping[str, Any]) -> str:
    """JSON text without NaN, in ASCII: no terminal's or shell's encoding can harm it."""
    return json.dumps(thing, indent=1, allow_nan=False)
