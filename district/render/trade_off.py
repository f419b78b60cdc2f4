"""The chart of what a valve that shuts by itself saves, against how often it trips falsely."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.render import palette
from district.render.drawn import as_svg, legend_below, plain_axes, styled
from district.words import brief, figure, plural, true, whole

MOST_A_YEAR = 100.0
"""Settings that trip more often are not drawn: nobody bears a valve that shuts twice a week.
Common practice, no source."""
# Below one false trip a year the scale is even, so that none a year has a place on it; above, and
# for the water lost, a step is a factor of ten: what a valve saves is seen beside what none does.
_EVEN_TO = 1.0
_NAMES = ("false_trips_per_year", "leaked_with_m3")
Reals = np.ndarray[Any, np.dtype[np.float64]]


def trade_off_chart(curve: pd.DataFrame, *, without_m3: float | None = None) -> str:
    """False trips a year of each setting against the water past leaks would have lost with it,
    with 95 % limits and the advised setting marked, as SVG.

    `curve` rows of SHUTOFF_CURVE of one meter; `without_m3` what was lost without a valve.
    """
    rows = _drawn(curve)
    advised = rows["advised"].map(true).to_numpy(dtype=bool)
    (x, x_low, x_high), (y, y_low, y_high) = (_three(rows, name) for name in _NAMES)
    with styled(figsize=(5.6, 3.0), dpi=72, layout="constrained") as drawing:
        axes = drawing.add_subplot()
        axes.set_xscale("symlog", linthresh=_EVEN_TO)
        axes.set_yscale("log")
        least = _least(y, y_low)
        y, y_low = np.maximum(y, least), np.maximum(y_low, least)
        top = max(float(y_high.max()), without_m3 or 0.0, 10 * least)
        axes.set_ylim(least, 1.3 * top)
        axes.plot(x, y, color=palette.QUIET, lw=1.0, drawstyle="steps-post", zorder=2)
        axes.errorbar(
            x, y, xerr=_arms(x, x_low, x_high), yerr=_arms(y, y_low, y_high), ls="none",
            ecolor=palette.BAND, elinewidth=1.4, zorder=1, label="95 % limits",
        )  # fmt: skip
        others = ~advised
        axes.plot(
            x[others], y[others], ls="none", marker="o", ms=4.5, mfc="white", mec=palette.INK,
            mew=0.9, zorder=3, label="a setting",
        )  # fmt: skip
        if advised.any():
            axes.plot(
                x[advised], y[advised], ls="none", marker="D", ms=8, color=palette.LEAKAGE,
                zorder=4, clip_on=False, label="advised",
            )  # fmt: skip
        if without_m3 is not None and without_m3 > 0:
            axes.axhline(without_m3, color=palette.INK, lw=1.2, ls=":", label="without a valve")
        _dress(axes, most=float(x.max()))
        legend_below(drawing, ncols=4)
        return as_svg(drawing)


def trade_off_words(curve: pd.DataFrame, name: str, *, without_m3: float | None = None) -> str:
    """What the chart shows, for a reader who cannot see it."""
    rows = curve.sort_values("false_trips_per_year", kind="stable")
    ends = f"From {_setting(rows.iloc[0])} to {_setting(rows.iloc[-1])}."
    chosen = rows[rows["advised"].map(true).astype(bool)]
    said = f"Trade-off for {name}, {plural(len(rows), 'setting')}. {ends}"
    if without_m3 is not None:
        said += f" Lost without a valve: {figure(without_m3, name='leaked_m3')}."
    return said if chosen.empty else f"{said} Advised: {_setting(chosen.iloc[0])}."


def left_out_words(curve: pd.DataFrame) -> str:
    """How many settings the chart leaves out; '' if none."""
    left = len(curve) - len(_drawn(curve))
    if not left:
        return ""
    more = plural(left, "more setting")
    return f"{more} would trip over {brief(MOST_A_YEAR)} times a year: in the table alone."


def _setting(row: Any) -> str:
    trips, lost = (
        figure(row[name], row[f"{name}_low"], row[f"{name}_high"], name) for name in _NAMES
    )
    return (
        f"{brief(row['trip_l_s'])} L/s for {brief(row['trip_h'])} h with false trips {trips} "
        f"and {lost} lost"
    )


def _three(rows: pd.DataFrame, name: str) -> tuple[Reals, Reals, Reals]:
    value, low, high = (
        pd.to_numeric(rows[f"{name}{end}"]).to_numpy(dtype=float) for end in ("", "_low", "_high")
    )
    return value, np.where(np.isnan(low), value, low), np.where(np.isnan(high), value, high)


def _arms(value: Reals, low: Reals, high: Reals) -> Reals:
    arms: Reals = np.maximum(np.array([value - low, high - value]), 0.0)
    return arms


def _drawn(curve: pd.DataFrame) -> pd.DataFrame:
    """Settings drawn, in order of false trips: those that people would bear, if there are any."""
    rows = curve.sort_values("false_trips_per_year", kind="stable")
    few = rows["false_trips_per_year"] <= MOST_A_YEAR
    kept: pd.DataFrame = rows[few | rows["advised"].map(true).astype(bool)] if few.any() else rows
    return kept


def _least(value: Reals, low: Reals) -> float:
    """Where the scale of factors begins: it has no zero."""
    positive = np.concatenate([value[value > 0], low[low > 0]])
    return float(10 ** np.floor(np.log10(positive.min()))) if len(positive) else 0.1


def _dress(axes: Any, *, most: float) -> None:
    from matplotlib import ticker

    ticks = [0.0, 1.0]
    while ticks[-1] < most:
        ticks.append(ticks[-1] * 10)
    axes.xaxis.set_major_locator(ticker.FixedLocator(ticks))
    axes.xaxis.set_minor_locator(ticker.NullLocator())
    axes.xaxis.set_major_formatter(ticker.FuncFormatter(_plain))
    axes.set_xlim(-0.08, ticks[-1] * 1.05)
    axes.yaxis.set_minor_locator(ticker.NullLocator())
    axes.yaxis.set_major_formatter(ticker.FuncFormatter(_plain))
    axes.set_xlabel("false trips a year")
    axes.set_ylabel("m³ that leaks lose")
    plain_axes(axes)


def _plain(at: float, _: Any) -> str:
    return f"{at:g}" if at < 1 else whole(at)
