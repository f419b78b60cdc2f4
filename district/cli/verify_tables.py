"""What `district verify` and `district ledger` print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, print_lines, show, titled
from district.cli.say import basis, caution
from district.render import STATE_WORDS, kind_words, leaks_of, place_words, year_lines, zones_named
from district.results import Ledger
from district.words import EMPTY, day, figure, missing, plural, spelled, whole

SHOWN = 20
"""Leaks of a year that are printed; ledger.csv has all."""
OUTCOME_WORDS = {
    "crew_back": "crew back",
    "too_early": "too early",
    "not_told": "not told",
    "closed": "job closed",
}


def verified_table(found: Ledger) -> Table:
    """Each repair, the newest first."""
    table = titled(
        "Repairs on record, the newest first",
        "Mended",
        "Where",
        "Repaired",
        "The job",
        "Ran before\nL/s",
        "Fell by\nL/s",
        "Still runs\nL/s",
        left=4,
    )
    for row in found.verifications.itertuples():
        place = row.place_id or row.cell_id
        outcome = OUTCOME_WORDS[str(row.outcome)]
        if row.outcome == "too_early":
            outcome += f"\n{plural(int(row.nights_more_count), 'more night')}"
        table.add_row(
            Text(str(row.mended_id)),
            Text(found.places.get(str(place), str(place)) or EMPTY),
            day(row.repaired),
            outcome,
            estimate(row, "before_l_s"),
            estimate(row, "drop_l_s"),
            estimate(row, "remaining_l_s"),
        )
    return or_none(table)


def print_verified(found: Ledger, zones: pd.DataFrame) -> None:
    """The whole printed output of `district verify`."""
    show(verified_table(found))
    told = found.verifications
    print_lines(
        f"- {zones_named(' '.join(filter(None, (str(row.said), str(row.go_to)))), zones)}"
        for row in told.itertuples()
    )
    counts = told["outcome"].value_counts()
    each = [f"{OUTCOME_WORDS[n]}: {counts[n]}" for n in OUTCOME_WORDS if n in counts]
    print_lines([f"{'; '.join(each).capitalize()}." if each else ""])
    print_lines(basis(found.basis, "Repairs are verified on nights of"))
    print(caution())


def year_table(found: Ledger, year: int) -> Table:
    """The figures of a year, and of the one before where it has any."""
    lines = year_lines(found.years, year, found.currency)
    before = any(then != EMPTY for _, _, then in lines)
    heads = [str(year), *([str(year - 1)] if before else [])]
    table = titled(f"{found.name}: leaks of {year}", "The year", *heads)
    for label, now, then in lines:
        table.add_row(label, now, *([then] if before else []))
    return table


def groups_table(found: Ledger, year: int) -> Table:
    """A year's leaks by kind and by zone."""
    table = titled(
        "By kind and by zone",
        "",
        "Found",
        "Mended",
        "Water lost\nm³",
        f"Repairs\n{found.currency}",
    )
    for row in found.groups[found.groups["year"] == year].itertuples():
        zone = found.places.get(str(row.group), str(row.group))
        table.add_row(
            Text(zone if row.by == "zone" else kind_words(row.group)),
            whole(row.found_count),
            whole(row.repaired_count),
            estimate(row, "volume_m3"),
            figure(row.repair_currency, name="repair_currency"),
        )
    return or_none(table)


def leaks_table(found: Ledger, leaks: pd.DataFrame) -> Table:
    """Leaks of a year, the most water first."""
    table = titled(
        "Leaks, the most water first",
        "Where",
        "Found",
        "Stands",
        "Before\nL/s",
        "Water lost\nm³",
        f"Water\n{found.currency}",
        f"Repair\n{found.currency}",
        left=3,
    )
    for column in table.columns[1:3]:
        column.no_wrap = True
    for row in leaks.head(SHOWN).itertuples():
        table.add_row(
            Text(f"{place_words(row._asdict(), found.places)}\n{kind_words(row.kind)}"),
            day(row.found),
            _stands(row),
            estimate(row, "before_l_s"),
            estimate(row, "volume_m3"),
            estimate(row, "water_currency"),
            figure(row.repair_currency, name="repair_currency"),
        )
    return or_none(table)


def _stands(row: Any) -> str:
    """How a leak stands, and what the nights say where they do not confirm it."""
    state = STATE_WORDS[str(row.state)]
    doubt = row.state == "repaired" and row.verdict not in ("", "verified")
    return f"{state}\n{spelled(row.verdict)}" if doubt else state


def print_ledger(found: Ledger, year: int, paths: Sequence[Path]) -> None:
    """The whole printed output of `district ledger`."""
    leaks = leaks_of(found, year)
    show(year_table(found, year), groups_table(found, year), leaks_table(found, leaks))
    left = len(leaks) - SHOWN
    print_lines([f"... and {plural(left, 'more leak')} in ledger.csv." if left > 0 else ""])
    print_lines(basis(found.basis, "The ledger rests on"))
    print_lines(_written(paths))
    print(caution())


def _written(paths: Iterable[Path]) -> list[str]:
    page, *tables = (str(path) for path in paths)
    return [f"Page to print: {page}", f"Tables: {', '.join(tables)}"]


def latest_year(found: Ledger) -> int | None:
    """The year of the last night, else the latest with a leak; None where there is neither."""
    last: Any = found.basis.last
    if not missing(last):
        return int(last.year)
    return None if found.years.empty else int(found.years["year"].max())
