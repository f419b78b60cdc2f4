"""Tables of what is to come: leaks that would be shown, walks to them, where to add a device."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, titled
from district.schema.located import DEVICE_WORDS
from district.words import EMPTY, missing, percent, spelled

_LEAST_SHARE = 1e-6
"""Limits nearer to each other than this are one figure: what is left is rounding."""


def reach_table(
    zone_reach: pd.DataFrame, detectability: pd.DataFrame, names: pd.Series[Any]
) -> Table:
    """By zone the smallest leak shown on all its pipes, and the walk to leaks of several sizes."""
    sizes = sorted(set(zone_reach["leak_l_s"].astype(float)))
    table = titled(
        "What the present meters and loggers would show of the next leak (95 % limits beneath)",
        "Zone",
        "Shown by",
        "Smallest leak\nL/s",
        *(f"Walk to\n{size:g} L/s\n%" for size in sizes),
        left=2,
    )
    walks = {(str(row.cell_id), float(row.leak_l_s)): _walk(row) for row in zone_reach.itertuples()}
    pipes = {str(cell): part for cell, part in detectability.groupby("cell_id", sort=False)}
    for cell_id in dict.fromkeys(str(cell) for cell, _ in walks):
        own = pipes.get(cell_id, detectability.iloc[:0])
        table.add_row(
            Text(str(names.get(cell_id, cell_id))),
            _shown_by(own),
            _smallest(own),
            *(walks.get((cell_id, size), EMPTY) for size in sizes),
        )
    return or_none(table)


def next_table(next_devices: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """Where the next logger or meter goes, best first, each with those above it in place."""
    table = titled(
        "Where the next device shortens the walk most",
        "Put a",
        "On pipe",
        "Zone",
        "Walk now\nm",
        "Walk with it\nm",
        "Saves\n%",
        left=3,
    )
    for row in next_devices.sort_values("rank", kind="stable").itertuples():
        second = "" if missing(row.pipe_2_id) else f", with {row.pipe_2_id} metered or shut"
        table.add_row(
            DEVICE_WORDS.get(row.kind, spelled(row.kind)),
            Text(f"{row.pipe_id}{second}"),
            Text(str(names.get(row.cell_id, row.cell_id))),
            estimate(row, "walk_before_m"),
            estimate(row, "walk_after_m"),
            percent(row.gain_share, decimals=0).removesuffix(" %"),
        )
    return or_none(table)


def _walk(row: Any) -> str:
    """Walk in per cent; where nothing tells it there are no limits, and no decimals either."""
    known = float(row.walk_share_high) - float(row.walk_share_low) > _LEAST_SHARE
    return estimate(row, "walk_share") if known else f"{100 * row.walk_share:.0f}"


def _smallest(pipes: pd.DataFrame) -> str:
    """The smallest leak that shows wherever it is: that of the pipe where it must be largest."""
    if pipes.empty or pipes["smallest_l_s"].isna().any():
        return EMPTY
    return estimate(pipes.loc[pipes["smallest_l_s"].astype(float).idxmax()], "smallest_l_s")


def _shown_by(pipes: pd.DataFrame) -> str:
    """What would show it first, with its share of the parts of pipe where both do."""
    known = pipes["shown_by"].fillna("").astype(str)
    counts = known[known != ""].value_counts().sort_index()
    if len(counts) < 2:
        return "".join(counts.index) or "nothing"
    return ", ".join(f"{name} {percent(n / len(known), decimals=0)}" for name, n in counts.items())
