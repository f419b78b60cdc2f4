"""Why works are on the list, in sentences to read out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from district.words import figure, listed, places, plural, spelled


def project_said(row: Mapping[str, Any], *, horizon_years: int, currency: str) -> str:
    """A row of RENEWAL_PROJECTS in words: what is renewed, what breaks there, what that costs,
    and what the works cost and save."""
    pipes = str(row["pipe_ids"]).split(", ")
    length = figure(row["length_m"], name="length_m")
    named = places("pipe", pipes)
    # A site without a street is called by its first pipe, which is named anyway.
    what = named[0].upper() + named[1:] if row["street"] in pipes else f"{row['street']}: {named}"
    stuff = listed(spelled(m) for m in str(row["materials"]).split(", ") if m)
    of_what = f" of {stuff}" if stuff else ""
    seen = int(row["breaks_count"])
    on_record = f"{plural(seen, 'break')} {'is' if seen == 1 else 'are'}" if seen else "no break is"
    times = figure(*_limits(row, "benefit_cost_index")) if row["cost_currency"] > 0 else ""
    back = f": {times} times the cost" if times else ""
    return (
        f"{what}, {length}{of_what}. There {on_record} on record, and "
        f"{figure(*_limits(row, 'breaks_per_year'))} a year are expected, at "
        f"{_money(row, 'risk_currency_year', currency)}. The works cost "
        f"{_money(row, 'cost_currency', currency)} and save "
        f"{_money(row, 'benefit_currency', currency)} within {plural(horizon_years, 'year')}{back}."
    )


def _limits(row: Mapping[str, Any], name: str) -> tuple[Any, Any, Any]:
    return row[name], row[f"{name}_low"], row[f"{name}_high"]


def _money(row: Mapping[str, Any], name: str, currency: str) -> str:
    return figure(*_limits(row, name), name, currency=currency)
