"""The alarms as an Atom feed (RFC 4287) that any reader or other system can follow.

The dates in it come from the data, not from the clock, so that the same data give the same feed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any
from uuid import UUID, uuid5
from xml.sax.saxutils import escape, quoteattr

import pandas as pd

from district.results import Morning
from district.words import CAUTION, missing, spelled

ENTRIES = 200
"""The newest alarms that the feed holds; alarms.csv has all that stand open."""
LATE_NIGHTS = 35
"""What ended is left in the feed for so long, for readers that look seldom."""
_NAMESPACE = UUID("9757f315-e75c-4af8-a1ef-e5db64831c88")
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What is no character in XML 1.0 (section 2.2)."""


def atom_feed(morning: Morning) -> str:
    """The feed as text: one entry an alarm, the newest first, at most `ENTRIES`.

    An alarm's id is a name-based UUID (RFC 9562, 5.5) of the district's name and the alarm's, so
    it stays from one morning to the next; `updated` is when it was last news.
    """
    lines = [
        '<?xml version="1.0" encoding="utf-8"?>',
        '<feed xmlns="http://www.w3.org/2005/Atom">',
        f"<id>{_urn(morning.name)}</id>",
        f'<title type="text">{_text(morning.name)}: alarms of leaks and meters</title>',
        f"<updated>{_instant(morning.edition)}</updated>",
        f"<author><name>{_text(morning.name) or 'district'}</name></author>",
        "<generator>district</generator>",
    ]
    for row in _newest(morning):
        lines += _entry(row, morning)
    return "\n".join([*lines, "</feed>", ""])


def _newest(morning: Morning) -> list[dict[str, Any]]:
    told = morning.told
    if told.empty:
        return []
    last = pd.Timestamp(told["updated"].max())
    late = told["updated"] > last - pd.Timedelta(days=LATE_NIGHTS)
    # What was over when it was first known, and never told, is no news for a feed either.
    open_or_told = ~told["over"].astype(bool) | (late & _ever_told(told, morning))
    shown = told[open_or_told].sort_values(
        ["updated_utc", "act", "start", "alarm_id"],
        ascending=[False, False, False, True],
        kind="stable",
    )
    return [{str(k): v for k, v in row.items()} for row in shown.head(ENTRIES).to_dict("records")]


def _ever_told(told: pd.DataFrame, morning: Morning) -> pd.Series[Any]:
    """Whether an alarm that is over was news: now, or since it was first known."""
    return told["alarm_id"].isin(morning.morning["alarm_id"]) | (
        told["updated"] > told["first_told"]
    )


def _entry(row: Mapping[str, Any], morning: Morning) -> Iterable[str]:
    over = f"{spelled(row['state']).capitalize()}: " if row["over"] else ""
    title = f"{over}{row['headline']}"
    urgent = "To act on. " if row["act"] else ""
    said = "\n".join(p for p in (f"{urgent}{row['headline']}", str(row["reason"]), CAUTION) if p)
    return [
        "<entry>",
        f"<id>{_urn(morning.name, str(row['alarm_id']))}</id>",
        f'<title type="text">{_text(title)}</title>',
        f"<updated>{_instant(row['updated_utc'])}</updated>",
        *(f"<category term={_attribute(row[name])}/>" for name in ("kind", "state")
          if not missing(row[name])),
        f'<content type="text">{_text(said)}</content>',
        "</entry>",
    ]  # fmt: skip


def _urn(*names: str) -> str:
    return uuid5(_NAMESPACE, "\n".join(names)).urn


def _text(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text))


def _attribute(value: Any) -> str:
    return quoteattr(_NOT_XML.sub("\ufffd", str(value)))


def _instant(value: datetime | None) -> str:
    """RFC 3339 in UTC, as RFC 4287, 3.3 asks; of a feed without any reading the first instant."""
    if value is None or missing(value):
        return "1970-01-01T00:00:00Z"
    return str(pd.Timestamp(value).tz_convert(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
