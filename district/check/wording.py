"""How findings name rows and wrong values, the same whatever the order of the rows."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import Any

import pandas as pd

from district.errors import Finding, Severity
from district.results import Inputs
from district.schema.ids import held
from district.settings import Settings
from district.words import closest, natural, places

EACH = 12
"""Findings of one kind given one by one before the rest is put into one sentence."""
_LISTED = 8
_NAMED = 2
_SEARCHED = 5000
Files = Callable[[Iterable[str]], str]
"""Says what the files of some devices' readings are called."""


def file_of(inputs: Inputs, table: str) -> str:
    """The file a table came from, as the user knows it."""
    return inputs.files.get(table, table)


def unread(inputs: Inputs, table: str) -> bool:
    """Whether a layer has no rows because its file could not be read, which is told already."""
    file = file_of(inputs, table)
    told = any(f.severity == "error" and f.source == file and not f.place for f in inputs.findings)
    return told and getattr(inputs, table).empty


def ids_of(inputs: Inputs, table: str) -> set[str] | None:
    """The ids a layer holds; None where its file could not be read."""
    key = f"{table.removesuffix('s')}_id"
    return None if unread(inputs, table) else set(filled(getattr(inputs, table)[key]).to_numpy())


def files_of(quality: pd.DataFrame) -> Files:
    """What to call the files that hold some devices' readings (`quality` is DEVICE_QUALITY).

    The file or pattern itself, or two; the readings of more, or of devices without any, are just
    called the readings.
    """
    known = quality.dropna(subset="source").drop_duplicates("device_id")
    source = known.set_index("device_id")["source"]

    def named(devices: Iterable[str]) -> str:
        own = natural(source[source.index.isin(set(devices))])
        return " and ".join(own) if 0 < len(own) <= _NAMED else "readings"

    return named


def filled(values: pd.Series[Any]) -> pd.Series[Any]:
    """The values that are not empty, as text without outer blanks, on their own index."""
    text = values[values.notna()].astype(str).str.strip()
    return text[text != ""]


def local_times(times: pd.Series[Any], settings: Settings) -> pd.Series[Any]:
    """Instants (UTC) by the district's clock."""
    return pd.to_datetime(times, utc=True).dt.tz_convert(settings.zone_info())


def row_names(times: pd.Series[Any]) -> pd.Series[Any]:
    """Rows of a record by their local date: row numbers would change when the file is sorted."""
    said = times.dt.strftime("of %Y-%m-%d")
    return said.where(times.notna(), "without date")


def shortened(found: list[Finding]) -> list[Finding]:
    """The first of many findings of a kind, and how many more there are."""
    rest = len(found) - EACH
    if rest <= 0:
        return found
    one = found[0]
    more = Finding(
        "warning",
        one.source,
        column=one.column,
        got=f"{rest} more such rows",
        expected=one.expected,
        remedy="Correct them",
    )
    return [*found[:EACH], more]


def one_of(known: Collection[str], value: str, *, what: str) -> str:
    """What was expected instead of `value`: all that is known, or the closest.

    >>> one_of(["A1", "A2"], "A3", what="a zone_id of zones.geojson")
    'a zone_id of zones.geojson: A1 or A2'
    """
    if not known:
        return f"{what}, which holds none"
    if len(known) <= _LISTED:
        *head, last = natural(known)
        return f"{what}: {', '.join(head)} or {last}" if head else f"{what}: {last}"
    # Looking for the closest among very many is slower than it helps.
    return what + (closest(value, natural(known)) if len(known) <= _SEARCHED else "")


def unknown_values(
    values: pd.Series[Any],
    names: pd.Series[Any],
    *,
    known: Collection[str] | None,
    offered: Collection[str] | None = None,
    severity: Severity,
    source: str,
    noun: str,
    what: str,
    remedy: str,
) -> list[Finding]:
    """One finding for each value that is not known, naming the rows (by `names`) that hold it.

    `values` and `names` share an index; empty values are passed over. `offered` are the known
    values that would be right here, if not all. Where `known` is None nothing is told. Past
    `EACH` wrong values the rest is told in one finding.
    """
    if known is None:
        return []
    given = filled(values)
    wrong = given[~held(given, known)]
    rows = {value: list(names[index]) for value, index in wrong.groupby(wrong).groups.items()}
    ordered = natural(rows)
    column = str(values.name)
    found = [
        Finding(
            severity,
            source,
            places(noun, rows[value]),
            column,
            got=f'"{value}"',
            expected=one_of(known if offered is None else offered, value, what=what),
            remedy=remedy,
        )
        for value in ordered[:EACH]
    ]
    rest = ordered[EACH:]
    if rest:
        found.append(
            Finding(
                severity,
                source,
                places(noun, [n for value in rest for n in rows[value]]),
                column,
                got=f"{len(rest)} more values that are not known",
                expected=what,
                remedy=remedy,
            )
        )
    return found
