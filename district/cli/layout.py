"""How tables for people are laid out: a fixed width, each estimate over its limits."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import fill
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from district.words import EMPTY, missing, rounded

WIDTH = 104
"""Wide enough for the zone table; the same on every terminal, so that what is printed is."""


def show(*tables: Table) -> None:
    """Print tables at a fixed width, without the blanks that fill each line."""
    console = Console(width=WIDTH, highlight=False)
    for table in tables:
        with console.capture() as held:
            console.print(table)
        print("\n".join(line.rstrip() for line in held.get().rstrip().splitlines()), end="\n\n")


def print_lines(lines: Iterable[str]) -> None:
    """Print sentences at the same width, and a blank line after them; nothing where all are ''.

    Paths, ids and dates stay in one piece, so that they can be copied.
    """
    said = [
        fill(
            line,
            WIDTH,
            subsequent_indent="  " if line.startswith("- ") else "",
            break_on_hyphens=False,
            break_long_words=False,
        )
        for line in lines
        if line
    ]
    if said:
        print("\n".join(said), end="\n\n")


def titled(title: str, *columns: str, left: int = 1) -> Table:
    """An empty table; the first `left` columns hold text and may wrap, the others figures."""
    table = Table(title=title, title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
    for n, column in enumerate(columns):
        table.add_column(column, justify="left" if n < left else "right", no_wrap=n >= left)
    return table


def or_none(table: Table) -> Table:
    """The table, saying so where it has no rows."""
    if not table.row_count:
        table.add_row("none")
    return table


def named(value: Any) -> Text:
    """A name from the data as it stands, or a dash where there is none."""
    return Text(EMPTY if missing(value) else str(value))


def estimate(row: Any, name: str, *, like: str = "") -> str:
    """An estimate with its limits beneath; the unit stands in the column's heading."""
    value, limits = span(row, name, like=like)
    return f"{value}\n{limits}" if limits else value


def span(row: Any, name: str, *, like: str = "") -> tuple[str, str]:
    """An estimate and its limits, '' where it has none; rounded as one of the name `like` would be
    where that is given: a count that is expected is no whole number."""
    value, low, high = rounded(
        getattr(row, name), getattr(row, f"{name}_low"), getattr(row, f"{name}_high"), like or name
    )
    if not low:
        return value, ""
    # A dash reads well and is short, but not beside a minus sign.
    return value, f"{low} to {high}" if "-" in low + high else f"{low}–{high}"
