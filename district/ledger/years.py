"""Each year of the ledger: how many leaks, how long they ran, what they lost and what it cost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.ledger_tables import LEDGER_GROUPS, LEDGER_YEARS
from district.schema.typed import typed

MENDED = ("repaired", "partly")
_FOUND = (*MENDED, "found", "recorded")
_WATER = ("volume_m3", "water_currency")
_VERDICTS = {
    "verified_count": ("verified",),
    "partly_count": ("partly", "another_leak"),
    "not_seen_count": ("not_seen",),
    "too_early_count": ("too_early",),
    "not_told_count": ("",),
}


def ledger_years(
    ledger: pd.DataFrame,
    verifications: pd.DataFrame,
    events: pd.DataFrame,
    *,
    first: date | None,
    last: date | None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables LEDGER_YEARS and LEDGER_GROUPS: every year a leak was found in, or of which there are
    nights, the latest first.

    Parameters: tables LEDGER, VERIFICATIONS, EVENTS; `first` and `last` night of the readings. A
    leak counts in the year it was found, and as mended in that of its last repair; its water in the
    years it ran, night by night with its growth. Limits of a zone's leaks add up, as its meters are
    wrong for all of them alike; of several zones the squares add. A year without readings has
    no volume.
    """
    water = water_by_year(ledger, events, last=last)
    years = _years(ledger, first, last)
    rows, groups = [], []
    for year in years:
        began, ended = _span(year, first, last)
        told = water[water["year"] == year] if began is not None else water.iloc[:0]
        rows.append(
            {
                "year": year,
                "first": began,
                "last": ended,
                **_counts(ledger, events, year, ended),
                **_times(ledger, year),
                **(summed(told) if began is not None else {}),
                **_repairs(verifications, ledger, year),
            }
        )
        groups += _groups(ledger, told, year)
    if not rows:
        return empty(LEDGER_YEARS), empty(LEDGER_GROUPS)
    by_group = pd.DataFrame(groups, columns=list(LEDGER_GROUPS.names()))
    return typed(pd.DataFrame(rows), LEDGER_YEARS), typed(by_group, LEDGER_GROUPS)


def water_by_year(ledger: pd.DataFrame, events: pd.DataFrame, *, last: date | None) -> pd.DataFrame:
    """The water of each leak and year: the columns of LEDGER that say how much, its row in it as
    `leak`, and `year`. Leaks of which no meter tells are not in it."""
    known = {str(row["event_id"]): row for row in events.to_dict("records")}
    parts = []
    for n, row in ledger.iterrows():
        event = known.get(str(row["event_id"]))
        if event is None or pd.isna(row["volume_m3"]) or last is None:
            continue
        for year, share in _shares(event, pd.Timestamp(last)).items():
            water = {
                f"{w}{e}": row[f"{w}{e}"] * share for w in _WATER for e in ("", "_low", "_high")
            }
            parts.append({"leak": n, "year": year, **row[["cell_id", "kind"]], **water})
    columns = ["leak", "year", "cell_id", "kind"]
    columns += [f"{w}{e}" for w in _WATER for e in ("", "_low", "_high")]
    return pd.DataFrame(parts, columns=columns)


def _shares(event: dict[str, Any], last: pd.Timestamp) -> dict[int, float]:
    """The share of an event's water that ran in each year."""
    start = pd.Timestamp(event["start"])
    end = last if pd.isna(event["end"]) else pd.Timestamp(event["end"])
    nights = pd.date_range(start, max(end, start), freq="D")
    growth = 0.0 if pd.isna(event["growth_l_s_d"]) else float(event["growth_l_s_d"])
    back = np.arange(len(nights) - 1, -1, -1)
    flow = np.maximum(float(event["size_l_s"]) - growth * back, 0.0)
    weight = flow if flow.sum() > 0 else np.ones(len(nights))
    total = pd.Series(weight).groupby(np.asarray(nights.year)).sum() / weight.sum()
    return {int(year): float(share) for year, share in total.items()}


def summed(water: pd.DataFrame) -> dict[str, float]:
    """Sums of the rows of `water_by_year`, with limits."""
    found: dict[str, float] = {}
    for name in _WATER:
        middle = float(water[name].sum())
        below = (water[name] - water[f"{name}_low"]).groupby(water["cell_id"]).sum()
        above = (water[f"{name}_high"] - water[name]).groupby(water["cell_id"]).sum()
        found[name] = middle
        found[f"{name}_low"] = max(middle - float(np.sqrt((below**2).sum())), 0.0)
        found[f"{name}_high"] = middle + float(np.sqrt((above**2).sum()))
    return found


def _years(ledger: pd.DataFrame, first: date | None, last: date | None) -> list[int]:
    named = set(ledger["found"].dropna().dt.year.astype(int))
    named |= set(ledger["repaired"].dropna().dt.year.astype(int))
    if first is not None and last is not None:
        named |= set(range(first.year, last.year + 1))
    return sorted(named, reverse=True)


def _span(
    year: int, first: date | None, last: date | None
) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    """The first and the last night of readings within a year, None where there is none."""
    if first is None or last is None or not first.year <= year <= last.year:
        return None, None
    return pd.Timestamp(max(first, date(year, 1, 1))), pd.Timestamp(min(last, date(year, 12, 31)))


def _in(days: pd.Series[Any], year: int) -> pd.Series[Any]:
    return pd.to_datetime(days).dt.year == year


def _counts(
    ledger: pd.DataFrame, events: pd.DataFrame, year: int, ended: pd.Timestamp | None
) -> dict[str, Any]:
    mended = ledger["state"].isin(MENDED)
    counts: dict[str, Any] = {
        "found_count": int((ledger["state"].isin(_FOUND) & _in(ledger["found"], year)).sum()),
        "repaired_count": int((mended & _in(ledger["repaired"], year)).sum()),
    }
    if ended is not None:
        own = events[events["event_id"].isin(set(ledger["event_id"]))]
        begun, over = own["start"] <= ended, own["end"] <= ended
        counts["running_count"] = int((begun & ~over).sum())
    return counts


def _times(ledger: pd.DataFrame, year: int) -> dict[str, Any]:
    """Medians over the leaks mended in the year whose start is known."""
    timed = ledger[ledger["state"].isin(MENDED) & _in(ledger["repaired"], year)]
    timed = timed[timed["started"].notna()]
    names = ("awareness_d", "location_d", "repair_d", "run_d")
    return {
        "timed_count": len(timed),
        "located_count": int(timed["location_d"].notna().sum()),
        **{name: timed[name].median() for name in names},
    }


def _repairs(verifications: pd.DataFrame, ledger: pd.DataFrame, year: int) -> dict[str, Any]:
    own = verifications[_in(verifications["repaired"], year)]
    mended = ledger[ledger["state"].isin(MENDED) & _in(ledger["repaired"], year)]
    counts = {
        name: int(own["verdict"].fillna("").isin(verdicts).sum())
        for name, verdicts in _VERDICTS.items()
    }
    return {
        "repairs_count": len(own),
        **counts,
        "repair_currency": mended["repair_currency"].sum(min_count=1),
        "costed_count": int(mended["repair_currency"].notna().sum()),
    }


def _groups(ledger: pd.DataFrame, water: pd.DataFrame, year: int) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    found = ledger["state"].isin(_FOUND) & _in(ledger["found"], year)
    mended = ledger["state"].isin(MENDED) & _in(ledger["repaired"], year)
    for by, column in (("kind", "kind"), ("zone", "cell_id")):
        touched: Sequence[int] = [*ledger.index[found | mended], *water["leak"]]
        volume = water.groupby(column)["volume_m3"].sum()
        names = set(ledger.loc[touched, column])
        for group in sorted(names, key=lambda name: (-volume.get(name, 0.0), name)):
            own = ledger[column] == group
            cost = ledger.loc[own & mended, "repair_currency"].sum(min_count=1)
            rows.append(
                {
                    "year": year,
                    "by": by,
                    "group": group,
                    "found_count": int((own & found).sum()),
                    "repaired_count": int((own & mended).sum()),
                    "repair_currency": cost,
                    **_volume(water[water[column] == group]),
                }
            )
    return rows


def _volume(water: pd.DataFrame) -> dict[str, float]:
    if water.empty:
        return {}
    return {name: value for name, value in summed(water).items() if name.startswith("volume")}
