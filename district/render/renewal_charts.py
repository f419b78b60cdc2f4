"""Charts of the plan of renewal: captured breaks, breaks by tenths, the years to come, as SVG."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.render import palette
from district.render.drawn import as_svg, legend_below, plain_axes, styled
from district.schema.renewal_tables import RANKING_WORDS, SCENARIO_WORDS
from district.words import figure, plural

Reals = np.ndarray[Any, np.dtype[np.float64]]
_LINES: dict[str, dict[str, Any]] = {
    "rates": {"color": palette.LEAKAGE, "lw": 2.4},
    "breaks": {"color": palette.WORKS, "lw": 1.6, "ls": (0, (5, 1.5))},
    "age": {"color": palette.INK, "lw": 1.3, "ls": (0, (4, 1.5, 1, 1.5))},
    "random": {"color": palette.QUIET, "lw": 1.2, "ls": ":"},
}
_SCENARIOS: dict[str, dict[str, Any]] = {
    "none": {"color": palette.LEAKAGE, "marker": "o", "ls": "-"},
    "list": {"color": palette.WORKS, "marker": "s", "ls": (0, (5, 1.5))},
    "twice": {"color": palette.INK, "marker": "^", "ls": ":"},
}
"""Told apart by dashes and marks too, for print and colour-blind eyes."""


def captured_chart(curve: pd.DataFrame) -> str:
    """Share of later breaks on the first share of length, by each ranking (BACKTEST_CURVE), with
    the 95 % limits of the plan's own."""
    from matplotlib import ticker

    with styled(figsize=(5.6, 3.9), dpi=72, layout="constrained") as drawing:
        axes = drawing.add_subplot()
        for ranking, style in _LINES.items():
            own = curve[curve["ranking"] == ranking].sort_values("length_share")
            if own.empty:
                continue
            x, y = _reals(own, "length_share"), _reals(own, "captured_share")
            if ranking == "rates":
                low, high = (_reals(own, f"captured_share{end}") for end in ("_low", "_high"))
                axes.fill_between(x, low, high, color=palette.BAND, lw=0, label="its 95 % limits")
            axes.plot(x, y, label=RANKING_WORDS[ranking], **style)
        axes.set_xlim(0, 1)
        axes.set_ylim(0, 1)
        axes.set_xlabel("share of the length, in the order of the list")
        axes.set_ylabel("share of later breaks on it")
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(ticker.PercentFormatter(1.0, decimals=0))
        plain_axes(axes)
        legend_below(drawing, ncols=2)
        return as_svg(drawing)


def captured_words(table: pd.DataFrame) -> str:
    """What the chart shows (BACKTEST), for a reader who cannot see it."""
    said = [
        f"{RANKING_WORDS[row['ranking']]}: {_share(row, 5)}, {_share(row, 10)} and "
        f"{_share(row, 20)} on the first 5, 10 and 20 % of length"
        for _, row in table.iterrows()
    ]
    return f"Later breaks captured. {'; '.join(said)}." if said else "No ranking was held."


def tenths_chart(deciles: pd.DataFrame) -> str:
    """Breaks expected, with limits that hold chance, and breaks seen, by tenth (DECILES)."""
    rows = deciles.sort_values("decile")
    x, y, seen = (_reals(rows, n) for n in ("decile", "expected_count", "seen_count"))
    low, high = (_reals(rows, f"expected_count{end}") for end in ("_low", "_high"))
    with styled(figsize=(5.6, 3.9), dpi=72, layout="constrained") as drawing:
        axes = drawing.add_subplot()
        axes.bar(x, high - low, bottom=low, width=0.55, color=palette.BAND, label="95 % limits")
        axes.plot(
            x, y, ls="none", marker="_", ms=16, mew=2, color=palette.LEAKAGE, label="expected"
        )
        axes.plot(
            x, seen, ls="none", marker="D", ms=6, mfc="white", mec=palette.INK, mew=1.4,
            zorder=3, label="seen",
        )  # fmt: skip
        axes.set_xticks(x)
        axes.set_ylim(bottom=0)
        axes.set_xlabel("tenth, the highest rates first")
        axes.set_ylabel("breaks")
        plain_axes(axes)
        legend_below(drawing, ncols=3)
        return as_svg(drawing)


def tenths_words(deciles: pd.DataFrame) -> str:
    """What the chart shows, for a reader who cannot see it."""
    inside = deciles["seen_count"].between(
        deciles["expected_count_low"], deciles["expected_count_high"]
    )
    return (
        f"Breaks by tenth: what was seen lies within the limits in {int(inside.sum())} of "
        f"{plural(len(deciles), 'tenth')}."
    )


def years_chart(years: pd.DataFrame, name: str, label: str) -> str:
    """Figure `name` of RENEWAL_YEARS by year and scenario, the limits of the two ends of what is
    done shaded."""
    from matplotlib import ticker

    with styled(figsize=(5.6, 3.4), dpi=72, layout="constrained") as drawing:
        axes = drawing.add_subplot()
        for scenario, style in _SCENARIOS.items():
            own = years[years["scenario"] == scenario].sort_values("year")
            if own.empty:
                continue
            x = _reals(own, "year")
            if scenario != "twice":  # A third band would hide the other two.
                low, high = (_reals(own, f"{name}{end}") for end in ("_low", "_high"))
                axes.fill_between(x, low, high, color=style["color"], alpha=0.13, lw=0)
            axes.plot(
                x, _reals(own, name), label=SCENARIO_WORDS[scenario], lw=1.8, ms=5, mfc="white",
                **style,
            )  # fmt: skip
        axes.set_ylim(bottom=0)
        axes.set_ylabel(label)
        axes.xaxis.set_major_locator(ticker.MaxNLocator(integer=True))
        plain_axes(axes)
        legend_below(drawing, ncols=3)
        return as_svg(drawing)


def years_words(years: pd.DataFrame, name: str) -> str:
    """What the chart shows, for a reader who cannot see it."""
    said = []
    for scenario, told in SCENARIO_WORDS.items():
        own = years[years["scenario"] == scenario].sort_values("year")
        if len(own):
            ends = (own.iloc[0], own.iloc[-1])
            first, last = (f"{figure(r[name], name=name)} in {r['year']:.0f}" for r in ends)
            said.append(f"{told}: {first}, {last}")
    return f"By year. {'; '.join(said)}." if said else "No year is told."


def _share(row: Any, percent: int) -> str:
    return figure(row[f"captured_{percent}_share"], name="captured_share")


def _reals(rows: pd.DataFrame, name: str) -> Reals:
    return np.asarray(pd.to_numeric(rows[name]).to_numpy(dtype=float))
