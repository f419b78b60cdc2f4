"""What makes pipes break more or less, as the fit tells it, in a table and in sentences."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import gammaincinv

from district.plan.drawn import limits
from district.plan.fit import GROWTH_PRIOR, USUAL_SHAPE, Fit
from district.plan.history import History
from district.plan.rates import drawn_terms
from district.plan.terms import TERM_WORDS
from district.schema.renewal_tables import FIT_TERMS
from district.words import brief, percent, plural, spelled


def fit_terms(fit: Fit, history: History) -> pd.DataFrame:
    """Table FIT_TERMS: the district, each material, bore and its classes, ground, zones, growth
    and the unlikeness of like pipes.

    A material's factor is against its own published rate, a ground's or zone's against the others
    of the district.
    """
    theta, shape = drawn_terms(fit)
    district = theta[0]
    rows: list[dict[str, Any]] = []
    for at, (term, level) in enumerate(fit.terms.names):
        drawn = -theta[at] if term == "bore" else np.exp(theta[at])
        value = -fit.value[at] if term == "bore" else np.exp(fit.value[at])
        if term == "material":
            drawn, value = drawn * np.exp(district), value * np.exp(fit.value[0])
        published = -fit.terms.mean[at] if term == "bore" else 1.0
        rows.append(_row(term, level, value, drawn, published, _counts(history, term, level)))
    growth = fit.value[-1]
    every = _counts(history, "district", "")
    if fit.form != "none":
        of_form = "by a power of age" if fit.form == "power" else "exponentially"
        rows.append(_row("growth", of_form, growth, theta[-1], GROWTH_PRIOR[fit.form][0], every))
    rows.append(_row("unlike", "", np.exp(fit.log_shape), shape, USUAL_SHAPE, every))
    for row in rows:
        row["said"] = _said(row, fit)
        row["term"] = TERM_WORDS[row["term"]]
    return pd.DataFrame(rows, columns=list(FIT_TERMS.names()))


def _row(
    term: str,
    level: str,
    value: float,
    drawn: Any,
    published: float,
    counts: tuple[int, float, int],
) -> dict[str, Any]:
    low, high = limits(np.asarray(drawn)[None, :], [value])
    pipes, exposure, breaks = counts
    return {
        "term": term,
        "level": level,
        "factor_index": value,
        "factor_index_low": float(low[0]),
        "factor_index_high": float(high[0]),
        "published_index": published,
        "pipes_count": pipes,
        "exposure_km_year": exposure,
        "breaks_count": breaks,
    }


def _counts(history: History, term: str, level: str) -> tuple[int, float, int]:
    table = history.table
    own = table[table[term] == level] if level else table
    return len(own), float(own["exposure_km_year"].sum()), int(own["breaks_count"].sum())


def _said(row: dict[str, Any], fit: Fit) -> str:
    value, low, high = (row[f"factor_index{end}"] for end in ("", "_low", "_high"))
    limits = f"{brief(value)} ({brief(low)} to {brief(high)})"
    rests = f", from {plural(row['breaks_count'], 'break')}" if fit.with_breaks else ""
    term, level = row["term"], row["level"]
    if term == "district":
        return f"Mains of the district break {limits} times as often as published{rests}."
    if term == "material":
        material = spelled(level)
        material = f"{material[:1].upper()}{material[1:]}"
        return f"{material} breaks {limits} times as often as published{rests}."
    if term == "bore":
        return f"Breaks fall with bore to the power {limits}."
    if term == "growth":
        if fit.form == "power":
            return f"Breaks grow with age to the power {limits}."
        grown = " to ".join(percent(np.expm1(v), decimals=1) for v in (low, high))
        by = percent(np.expm1(value), decimals=1)
        return f"Breaks grow by {by} ({grown}) for each year of age."
    if term == "unlike":
        least, most = gammaincinv(value, [0.025, 0.975]) * (1 / value)
        return (
            "Pipes that look alike differ: 95 % of them break between "
            f"{brief(least)} and {brief(most)} times as often as their like."
        )
    if not fit.with_breaks:
        return "Not told: there is no record of breaks."
    what = {"bore_class": "Mains", "ground": f"Mains in {level}", "cell_id": f"Mains of {level}"}[
        term
    ]
    of = f" of {level}" if term == "bore_class" else ""
    return f"{what}{of} break {limits} times as often as else alike ones{rests}."
