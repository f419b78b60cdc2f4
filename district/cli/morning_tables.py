"""Tables of the morning: what is new, and what stands open, each in its order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, titled
from district.schema.event_tables import MORNING_WORDS
from district.watch import sure
from district.words import day, missing, spelled

SHOWN = 15
"""Alarms printed in one table; alarms.csv has all."""


def open_table(
    morning: pd.DataFrame, kinds: Mapping[str, str], *, currency: str, first: bool
) -> Table:
    """What is to be acted on, in order (`morning` is table MORNING), the first `SHOWN`.

    On a `first` run, when all of it is new, that is not said of each.
    """
    table = titled(
        "To act on, in order",
        "Order",
        "Where",
        "What, how likely",
        "Since",
        "Flow\nL/s",
        "To date\nm³",
        f"To date\n{currency}",
        left=3,
    )
    acting = morning[morning["rank"].notna()].sort_values("rank")
    for row in acting.head(SHOWN).itertuples():
        mark = "" if first or row.news == "standing" else f" ({MORNING_WORDS[row.news]})"
        table.add_row(
            f"{row.rank:.0f}",
            Text(str(row.place)),
            Text(_kind(row, kinds) + mark),
            day(row.start),
            estimate(row, "size_l_s"),
            estimate(row, "volume_m3"),
            estimate(row, "cost_currency"),
        )
    return table


def _kind(row: Any, kinds: Mapping[str, str]) -> str:
    kind = spelled(row.kind) if missing(row.kind) else kinds.get(str(row.kind), spelled(row.kind))
    return kind if missing(row.kind_share) else f"{kind} {sure(float(row.kind_share))}"
