"""An honest test of the ranking: made from the years before a date, held against those after."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.errors import StageError
from district.plan.fit import fit_rates
from district.plan.growth import years_at_mean_age
from district.plan.history import History, on_day
from district.plan.laid import laid_years
from district.plan.ranking import SHARES, TOPS, bootstrapped, capture_of, with_limits
from district.plan.rates import DRAWS, drawn_rates
from district.renewal_results import Backtest, Draws
from district.schema.renewal_tables import BACKTEST, BACKTEST_CURVE, DECILES, RANKING_WORDS
from district.settings import Settings
from district.words import day, listed, percent, plural, whole

LEAST_BREAKS = 5
"""Fewer before or after tell nothing of a ranking. Assumption."""
_FEW = 30
_GONE_SAID = (
    "Only pipes still in use are ranked, as the layer has none that was taken out, with its years: "
    "where pipes were renewed since, the worst are missing from every ranking alike."
)
_SEED = 19_790_505


def backtest(history: History, *, year: int, settings: Settings) -> Backtest:
    """Rank the pipes by what was known at the start of `year`, and count what broke since.

    The rates are fitted to the breaks before `year` alone, on pipes as they were watched until
    then; pipes laid later, or taken out before, are not ranked. Beside that ranking stand those
    by earlier breaks for each metre, by age alone, and at random. Limits by drawing the pipes anew.
    Raises `StageError` where the record does not reach over `year`, or holds fewer than 5 breaks on
    either side.
    """
    before = until(history, float(year))
    ranked = _ranked(before, history, year)
    broke = _later(history, year)
    early = int(before.table["breaks_count"].sum())
    late = int(broke[ranked].sum())
    _enough(history, year, early, late)
    fit = fit_rates(before, settings=settings)
    rate, draws = drawn_rates(fit, before, year=float(year))
    rate, draws, broke = rate[ranked], draws[ranked], broke[ranked]
    length = before.table["length_m"].to_numpy(dtype=float)[ranked]
    scores = {
        "rates": rate / length,
        "breaks": before.table["breaks_count"].to_numpy(dtype=float)[ranked] / length,
        "age": -before.laid[ranked],
        "random": np.zeros(len(length)),
    }
    captures = {name: capture_of(score, length, broke) for name, score in scores.items()}
    drawn = bootstrapped(captures, len(length))
    even = np.ones(len(length))
    found = {name: capture(even) for name, capture in captures.items()}
    span = history.table["to_year"].to_numpy(dtype=float)[ranked] - year
    growth = _growth_over(fit.form, float(fit.value[-1]), year - before.laid[ranked], span)
    deciles = _deciles(rate * growth, draws * growth[:, None], rate / length, length, broke)
    table = _table(found, drawn)
    return Backtest(
        year=year,
        until=history.last,
        table=table,
        curve=_curve(found, drawn),
        deciles=deciles,
        said=(
            *_said(table, deciles, year, early, late, len(length)),
            *(() if history.has_gone() else (_GONE_SAID,)),
        ),
        findings=history.findings,
    )


def until(history: History, end_year: float) -> History:
    """The history as it was known at `end_year`, a decimal year: no later break, no later watch,
    no year assumed from pipes laid later."""
    table = history.table
    last = min(history.last, end_year)
    laid, _ = laid_years(table, first_year=min(history.first, last), last_year=last)
    start = np.minimum(table["from_year"].to_numpy(dtype=float), end_year)
    stop = np.minimum(table["to_year"].to_numpy(dtype=float), end_year)
    kept = history.break_year < end_year
    count = np.bincount(history.break_pipe[kept], minlength=len(table))
    exposure = (stop - start) * table["length_m"].to_numpy(dtype=float) / 1000
    return History(
        table=table.assign(
            from_year=start, to_year=stop, breaks_count=count, exposure_km_year=exposure
        ),
        laid=laid,
        break_pipe=history.break_pipe[kept],
        break_year=history.break_year[kept],
        break_age=np.maximum(history.break_year - laid[history.break_pipe], 0.0)[kept],
        first=history.first,
        last=last,
        known=history.known,
        left_out=history.left_out,
    )


def _ranked(before: History, history: History, year: int) -> Any:
    """The pipes that were in use at the start of the year."""
    there = before.laid < year
    return np.flatnonzero(there & (history.table["to_year"].to_numpy(dtype=float) > year))


def _later(history: History, year: int) -> Reals:
    kept = history.break_year >= year
    count = np.bincount(history.break_pipe[kept], minlength=len(history.table))
    return np.asarray(count, dtype=float)


def _enough(history: History, year: int, early: int, late: int) -> None:
    if not history.known:
        raise StageError("No break on record counts, so no list can be held against later ones.")
    if early < LEAST_BREAKS or late < LEAST_BREAKS:
        raise StageError(
            f"{plural(early, 'break')} before {year} and {late} from then on count: at least "
            f"{LEAST_BREAKS} on either side are needed to judge a list. The record runs from "
            f"{day(on_day(history.first))} to {day(on_day(history.last, last=True))}; choose "
            "another year."
        )


def _growth_over(form: str, growth: float, age: Reals, span: Reals) -> Reals:
    """Breaks over the years that were watched after, for each of those in the first year."""
    first = years_at_mean_age(form, growth, age, age + 1.0)
    return np.asarray(years_at_mean_age(form, growth, age, age + span) / first)


def _table(found: dict[str, Any], drawn: dict[str, Any]) -> pd.DataFrame:
    rows = []
    for name, (curve, area) in found.items():
        curves, areas = drawn[name]
        row: dict[str, Any] = {"ranking": name}
        for top in TOPS:
            at = round(top * (len(SHARES) - 1))
            _put(
                row, f"captured_{100 * top:.0f}_share", with_limits(float(curve[at]), curves[:, at])
            )
        _put(row, "area_share", with_limits(area, areas))
        at = round(0.10 * (len(SHARES) - 1))
        more = float(found["rates"][0][at] - curve[at])
        _put(row, "more_10_share", with_limits(more, drawn["rates"][0][:, at] - curves[:, at]))
        rows.append(row)
    return pd.DataFrame(rows, columns=list(BACKTEST.names()))


def _put(row: dict[str, Any], name: str, estimate: tuple[float, float, float]) -> None:
    for end, value in zip(("", "_low", "_high"), estimate, strict=True):
        row[f"{name}{end}"] = value


def _curve(found: dict[str, Any], drawn: dict[str, Any]) -> pd.DataFrame:
    parts = []
    for name, (curve, _) in found.items():
        told = [with_limits(float(v), d) for v, d in zip(curve, drawn[name][0].T, strict=True)]
        value, low, high = np.array(told).T
        parts.append(
            pd.DataFrame(
                {
                    "ranking": name,
                    "length_share": SHARES,
                    "captured_share": value,
                    "captured_share_low": low,
                    "captured_share_high": high,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)[list(BACKTEST_CURVE.names())]


def _deciles(
    expected: Reals, draws: Draws, score: Reals, length: Reals, broke: Reals
) -> pd.DataFrame:
    """Ten groups of pipes in order of rate that expect the same number of breaks each."""
    order = np.argsort(-score, kind="stable")
    share = (expected[order].cumsum() - expected[order] / 2) / expected.sum()
    group = np.empty(len(order), dtype=np.int64)
    group[order] = np.minimum((10 * share).astype(np.int64), 9)
    random = np.random.default_rng(_SEED)
    rows = []
    for number in range(10):
        own = group == number
        mean = draws[own].sum(axis=0, dtype=float) if own.any() else np.zeros(DRAWS)
        # Chance twenty times for each draw, so that the limits are smooth.
        seen = random.poisson(np.repeat(mean, 20))
        low, high = np.percentile(seen, (2.5, 97.5))
        value = float(expected[own].sum())
        rows.append(
            {
                "decile": number + 1,
                "pipes_count": int(own.sum()),
                "length_km": float(length[own].sum() / 1000),
                "expected_count": value,
                "expected_count_low": min(float(low), value),
                "expected_count_high": max(float(high), value),
                "seen_count": int(broke[own].sum()),
            }
        )
    return pd.DataFrame(rows, columns=list(DECILES.names()))


def _said(
    table: pd.DataFrame, deciles: pd.DataFrame, year: int, early: int, late: int, pipes: int
) -> list[str]:
    by_name = table.set_index("ranking")
    rates = by_name.loc["rates"]
    top = _figure(rates, "captured_10_share")
    others = [
        f"{percent(by_name.loc[name, 'captured_10_share'], decimals=0)} {word}"
        for name, word in (
            ("breaks", f"by {RANKING_WORDS['breaks']}"),
            ("age", f"by {RANKING_WORDS['age']}"),
            ("random", RANKING_WORDS["random"]),
        )
    ]
    said = [
        f"Made at the start of {year} from {plural(early, 'break')} before, the first 10 % of the "
        f"length of {plural(pipes, 'main')} would have captured {top} of the {late} that came "
        f"after: {listed(others)}."
    ]
    for name, word in (("breaks", "earlier breaks alone"), ("age", "age alone")):
        low, high = (by_name.loc[name, f"more_10_share_{end}"] for end in ("low", "high"))
        if low > 0:
            said.append(f"It does better than {word}, beyond chance.")
        elif high < 0:
            said.append(f"It does worse than {word}, beyond chance: do not rely on it.")
        else:
            said.append(f"Whether it does better than {word}, so few breaks cannot tell.")
    expected, seen = deciles["expected_count"].sum(), deciles["seen_count"].sum()
    within = deciles["seen_count"].between(
        deciles["expected_count_low"], deciles["expected_count_high"]
    )
    said.append(
        f"Expected were {whole(expected)} breaks after, seen {whole(seen)}; "
        f"{int(within.sum())} of 10 groups in order of rate lie within their limits."
    )
    if min(early, late) < _FEW:
        said.append("So few breaks say little: the limits are wide, and belong to the answer.")
    return said


def _figure(row: pd.Series[Any], name: str) -> str:
    value, low, high = (float(row[f"{name}{end}"]) for end in ("", "_low", "_high"))
    return (
        f"{percent(value, decimals=0)} "
        f"({percent(low, decimals=0).removesuffix(' %')} to {percent(high, decimals=0)})"
    )
