"""The alarms for other systems: JSON (RFC 8259), CSV (RFC 4180) and Atom (RFC 4287), and the page.

Dates and instants are written as RFC 3339 says. The same morning gives the same bytes.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from district.files import whole_folder, write_text
from district.render.feed import atom_feed
from district.render.morning import morning_page
from district.render.tables import as_csv
from district.results import Morning
from district.schema.columns import Column
from district.schema.event_tables import MORNING
from district.words import CAUTION, missing, true

PAGE, JSON, CSV, ATOM = "morning.html", "alarms.json", "alarms.csv", "alarms.atom"


def write_morning(morning: Morning, out: Path) -> tuple[Path, ...]:
    """Write page, JSON, CSV and feed into `out`, all or none; other files there stay.

    Returns their paths. Raises `OutputError` where they cannot be written.
    """
    texts = {
        PAGE: morning_page(morning),
        JSON: f"{alarms_json(morning)}\n",
        CSV: as_csv(MORNING, morning.morning, line_end="\r\n"),
        ATOM: atom_feed(morning),
    }
    with whole_folder(out) as draft:
        for name, text in texts.items():
            write_text(draft / name, text)
    return tuple(out / name for name in texts)


def alarms_json(morning: Morning) -> str:
    """The alarms as one JSON object in ASCII, empty values as null."""
    rows = morning.morning
    columns = [_column(c, rows[c.name]) for c in MORNING.columns]
    names = MORNING.names()
    news = rows["news"].value_counts()
    said = {
        "name": morning.name,
        "timezone": morning.timezone,
        "currency": morning.currency,
        "readings_to": _instant(morning.readings_to),
        "edition": _instant(morning.edition),
        "nights_to": _date(morning.basis.last),
        "nights_before_to": _date(morning.before),
        "first_run": morning.before is None,
        "to_act_on_count": int(rows["act"].map(true).sum()),
        "news_count": {str(k): int(v) for k, v in sorted(news.items())},
        "alarms": [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)],
        "assumptions": list(morning.basis.assumptions),
        "limits": list(morning.basis.limits),
        "findings": [f.sentence() for f in morning.findings if f.severity != "note"],
        "caution": CAUTION,
    }
    return json.dumps(said, indent=1, allow_nan=False)


def _column(column: Column, values: pd.Series[Any]) -> list[Any]:
    return [None if missing(v) else _plain(column.kind, v) for v in values.tolist()]


def _plain(kind: str, value: Any) -> Any:
    if kind == "real":
        return float(value)
    if kind == "whole":
        return int(value)
    if kind == "flag":
        return bool(value)
    if kind == "date":
        return _date(value)
    return _instant(value) if kind == "time" else str(value)


def _date(value: Any) -> str | None:
    """RFC 3339, 5.6: full-date."""
    if missing(value):
        return None
    return (value if type(value) is date else pd.Timestamp(value).date()).isoformat()


def _instant(value: datetime | None) -> str | None:
    """RFC 3339, 5.6: date-time, in UTC."""
    return None if value is None else value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
