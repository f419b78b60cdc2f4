"""The ledger as a page of one year to print on A4, and as open tables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
import pandas as pd

from district import words
from district.files import whole_folder
from district.render.explain import REPAIR_WORDS
from district.render.tables import as_csv
from district.render.templates import environment, finished, row_dicts, styles
from district.results import Ledger
from district.schema.columns import Table
from district.schema.ledger_tables import LEDGER, LEDGER_GROUPS, LEDGER_YEARS, VERIFICATIONS

LEAKS = 14
"""Leaks of a year on the page, the largest first; ledger.csv has all."""
GROUPS = 9
"""Kinds and zones of a year on the page; ledger_groups.csv has all."""
STATE_WORDS = {  # See LEDGER_STATES.
    "repaired": "mended",
    "partly": "in part",
    "found": "found",
    "running": "runs",
    "ended": "ended",
    "recorded": "on record",
}
_KINDS = {"not_told": "kind not told", "main": "main, pipe wall"}
_MEDIAN_OF = {
    "awareness_d": "timed_count",
    "location_d": "located_count",
    "repair_d": "located_count",
    "run_d": "timed_count",
}
"""Median -> how many leaks it is of."""
_LINES: tuple[tuple[str, str], ...] = (
    ("Leaks found", "found_count"),
    ("Leaks mended", "repaired_count"),
    ("Events running at the end", "running_count"),
    ("Median days before anyone knew", "awareness_d"),
    ("Median days until found", "location_d"),
    ("Median days until mended", "repair_d"),
    ("Median days run, of those mended", "run_d"),
    ("Water lost", "volume_m3"),
    ("Cost of that water", "water_currency"),
    ("Cost of repairs, as stated", "repair_currency"),
    ("Repairs on record", "repairs_count"),
    ("... which the night flow confirms", "verified_count"),
    ("... after which a flow is left", "partly_count"),
    ("... after which no drop is seen", "not_seen_count"),
    ("... too early to tell", "too_early_count"),
    ("... of which the meters tell nothing", "not_told_count"),
)


def year_lines(years: pd.DataFrame, year: int, currency: str) -> list[tuple[str, str, str]]:
    """What to say of a year and of the one before: label, figure, figure ('-' if none)."""
    known = {int(row["year"]): row for row in row_dicts(years)}
    now, then = known.get(year), known.get(year - 1)
    return [
        (label, _figure(now, name, currency), _figure(then, name, currency))
        for label, name in _LINES
    ]


def _figure(row: Mapping[str, Any] | None, name: str, currency: str) -> str:
    if row is None:
        return words.EMPTY
    if name == "repair_currency" and words.missing(row[name]):
        return "not stated" if row["repaired_count"] else words.EMPTY
    if name in _MEDIAN_OF:
        of = words.whole(row[_MEDIAN_OF[name]])
        return words.EMPTY if words.missing(row[name]) else f"{row[name]:g} (of {of})"
    low, high = row.get(f"{name}_low"), row.get(f"{name}_high")
    said = words.figure(row[name], low, high, name, currency=currency)
    if name == "repair_currency" and row["costed_count"] < row["repaired_count"]:
        said += f" (of {words.whole(row['costed_count'])} of {words.whole(row['repaired_count'])})"
    return said


def leaks_of(found: Ledger, year: int) -> pd.DataFrame:
    """The rows of LEDGER that were found, mended or running in a year, the most water first."""
    leaks, years = found.leaks, found.years.set_index("year")
    told = leaks["found"].dt.year.eq(year) | leaks["repaired"].dt.year.eq(year)
    last = years["last"].get(float(year))
    if not words.missing(last):
        heard = ~leaks["found"].notna() & (leaks["started"] <= pd.Timestamp(last))
        over = leaks["started"] + pd.to_timedelta(leaks["run_d"].fillna(0.0), unit="D")
        told |= heard & (over >= pd.Timestamp(year, 1, 1))
    return leaks[told].sort_values("volume_m3", ascending=False, na_position="last", kind="stable")


def place_words(row: Mapping[str, Any], places: Mapping[str, str]) -> str:
    """Where a leak is: 'P0350, Mill Lane'; of a zone or building by its name."""
    own, zone = str(row["place_id"]), str(row["cell_id"])
    named = places.get(own, own)
    around = places.get(zone, zone)
    return named if not zone or around == named else f"{named}, {around}"


def kind_words(kind: Any) -> str:
    """What leaked, in words."""
    return _KINDS.get(str(kind), words.spelled(kind))


def ledger_page(found: Ledger, year: int) -> str:
    """The page of a year as text of HTML that needs neither network nor script."""
    style = styles("report.css", "ledger.css")
    return finished(_template().render(style=style, **_context(found, year)))


@cache
def _template() -> jinja2.Template:
    return environment().get_template("ledger.html")


def _context(found: Ledger, year: int) -> dict[str, Any]:
    leaks = leaks_of(found, year)
    own = found.groups[found.groups["year"] == year]
    row = next((r for r in row_dicts(found.years) if r["year"] == year), {})
    lines = year_lines(found.years, year, found.currency)
    return {
        "found": found,
        "year": year,
        "first": row.get("first"),
        "last": row.get("last"),
        "compared": any(figure != words.EMPTY for _, _, figure in lines),
        "lines": lines,
        "groups": {by: row_dicts(own[own["by"] == by].head(GROUPS)) for by in ("kind", "zone")},
        "groups_left": sum(
            max(int((own["by"] == by).sum()) - GROUPS, 0) for by in ("kind", "zone")
        ),
        "leaks": row_dicts(leaks.head(LEAKS)),
        "leaks_count": len(leaks),
        "place": lambda leak: place_words(leak, found.places),
        "zone": lambda cell: found.places.get(str(cell), str(cell)),
        "kind": kind_words,
        "state_words": STATE_WORDS,
        "repair_words": REPAIR_WORDS,
        "caution": words.CAUTION,
    }


def write_ledger(found: Ledger, year: int, out: Path) -> tuple[Path, ...]:
    """Write the page of a year, and every table as CSV (RFC 4180), all or none.

    Raises `OutputError`.
    """
    tables: tuple[tuple[Table, pd.DataFrame], ...] = (
        (LEDGER, found.leaks),
        (LEDGER_YEARS, found.years),
        (LEDGER_GROUPS, found.groups),
        (VERIFICATIONS, found.verifications),
    )
    files = {"ledger.html": ledger_page(found, year)}
    files |= {f"{t.name}.csv": as_csv(t, frame, line_end="\r\n") for t, frame in tables}
    with whole_folder(out) as draft:
        for name, text in files.items():
            (draft / name).write_bytes(text.encode("utf-8"))
    return tuple(out / name for name in files)
