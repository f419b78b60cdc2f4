"""Tables of the search: the walk to each leak, what told it, the stretches to walk first."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, span, titled
from district.schema.located import EVIDENCE_WORDS
from district.words import day, missing, percent, rounded, true, whole

SHOWN = 10
_LEAST_SHARE = 0.01
_ALL_M = 1.0
"""A piece that lacks less than this of its stretch is all of it."""


def sets_table(sets: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The walk to each leak looked for, largest first."""
    table = titled(
        "The shortest walk to each leak looked for",
        "Zone",
        "Since",
        "Flow looked for\nL/s",
        "Stretches",
        "Walk\nkm",
        "Mains\nkm",
        "Walk",
        "Probability\nheld",
        left=2,
    )
    for row in sets.itertuples():
        table.add_row(
            Text(_named(row, names)),
            "excess" if missing(row.start) else day(row.start),
            estimate(row, "flow_l_s"),
            whole(row.pipes_count),
            f"{row.set_km:.2f}",
            f"{row.mains_km:.2f}",
            percent(row.set_share, decimals=0),
            percent(row.held_share, decimals=0),
        )
    return or_none(table)


def first_leaks(sets: pd.DataFrame) -> list[str]:
    """The leaks whose evidence is shown: the largest."""
    return list(dict.fromkeys(sets["sought_id"]))[:SHOWN]


def evidence_table(evidence: pd.DataFrame, sets: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """What told each leak's place, in the order counted, with the walk left after it."""
    table = titled(
        "What told where to look, and the walk left after each",
        "Zone, and what told",
        "What was seen",
        "Walk left\nm",
        "Moved\n%",
        left=2,
    )
    told = dict(
        iter(evidence[evidence["used"].map(true).astype(bool)].groupby("sought_id", sort=False))
    )
    for sought_id, leaks in sets[sets["sought_id"].isin(first_leaks(sets))].groupby(
        "sought_id", sort=False
    ):
        if table.row_count:
            table.add_row(*("",) * 4)
        first = next(leaks.itertuples())
        table.add_row(
            Text(str(names.get(first.cell_id, first.cell_id))),
            Text(_looked_for(leaks)),
            whole(1000 * float(first.mains_km)),
            "",
        )
        for row in told.get(sought_id, evidence.iloc[:0]).itertuples():
            table.add_row(
                Padding(Text(EVIDENCE_WORDS.get(row.kind, row.kind)), (0, 0, 0, 2)),
                Text(str(row.said)),
                rounded(row.walk_m, name="walk_m")[0],
                _moved(row.moved_share),
            )
    return or_none(table)


def uncounted(evidence: pd.DataFrame, sets: pd.DataFrame, names: pd.Series[Any]) -> list[str]:
    """What did not count for where these leaks are, a line each with its reason."""
    counted = evidence["used"].map(true).astype(bool)
    left_out = evidence[~counted & evidence["sought_id"].isin(first_leaks(sets))]
    return [
        f"- {names.get(row.cell_id, row.cell_id)}, "
        f"{EVIDENCE_WORDS.get(row.kind, row.kind)}: {row.said}"
        for row in left_out.itertuples()
    ]


def stretches_table(stretches: pd.DataFrame, names: pd.Series[Any]) -> Table:
    """The stretches to walk first."""
    table = titled(
        f"The {SHOWN} stretches of pipe to walk first, in order of search",
        "Stretch",
        "Zone",
        "Why",
        "Length\nm",
        "Walk\nm",
        "Probability\n%",
        "Likely flow\nL/s",
        left=3,
    )
    ranked = stretches[stretches["in_set"].map(true).astype(bool)].sort_values("rank").head(SHOWN)
    for row in ranked.itertuples():
        table.add_row(
            Text(str(row.stretch_id)),
            Text(str(names.get(row.cell_id, row.cell_id))),
            Text(str(row.why)),
            f"{row.length_m:.0f}",
            piece(row),
            estimate(row, "probability_share"),
            estimate(row, "flow_l_s"),
        )
    return or_none(table)


def piece(row: Any) -> str:
    """The piece of a stretch that is walked, in metres from its western end; 'all' of most."""
    if missing(row.from_m) or missing(row.to_m):
        return "all"
    low, high = float(row.from_m), float(row.to_m)
    if low < _ALL_M and row.length_m - high < _ALL_M:
        return "all"
    return f"{low:.0f}–{high:.0f}"


def _moved(share: float) -> str:
    return percent(share, decimals=0).removesuffix(" %") if share >= _LEAST_SHARE else "< 1"


def _named(row: Any, names: pd.Series[Any]) -> str:
    zone = str(names.get(row.cell_id, row.cell_id))
    return zone if missing(row.leak) else f"{zone}, {row.leak} of two"


def _looked_for(leaks: pd.DataFrame) -> str:
    """The leak, or the two it is taken for, with flow and date."""
    flows = []
    for row in leaks.itertuples():
        value, limits = span(row, "flow_l_s")
        flows.append(f"{value} L/s ({limits})" if limits else f"{value} L/s")
    since = leaks["start"].iloc[0]
    what = "excess without an event" if missing(since) else f"since {day(since)}"
    taken = "taken for two leaks: " if len(leaks) > 1 else ""
    return f"{taken}{' and '.join(flows)}, {what}"
