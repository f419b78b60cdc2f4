"""The night-flow chart of a zone, and the small interval bar, as SVG text."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.render import palette
from district.render.drawn import as_svg, legend_below, plain_axes, styled
from district.words import day, missing


def night_chart(
    nights: pd.DataFrame, events: pd.DataFrame, *, seven: pd.DataFrame | None = None
) -> str:
    """A zone's night inflow and leakage (95 % band), events and works marked, as SVG.

    `nights` are rows of table NIGHTS of one zone, `events` rows of table EVENTS in that zone, of
    which those of the zone's own flow are marked (works are marked from the nights), `seven` rows
    of table SEVEN_NIGHTS of the zone. Nights without a figure leave a gap.
    """
    own = events[(events["place_kind"] == "zone") & (events["state"] != "explained")]
    series = _every_night(nights)
    with styled(figsize=(5.6, 3.0), dpi=72, layout="constrained") as drawing:
        axes = drawing.add_subplot()
        _bands(axes, series)
        if seven is not None and not series.empty:
            _seven_nights(axes, seven, series.index)
        _events(axes, own, series.index)
        _works(axes, series)
        _dress(axes, series)
        legend_below(drawing, ncols=3)
        return as_svg(drawing)


def chart_words(nights: pd.DataFrame, name: str) -> str:
    """What the chart shows, for a reader who cannot see it."""
    known = nights.dropna(subset=["leakage_l_s"])
    if known.empty:
        return f"Night flow of {name}: no night with a figure."
    last = known.sort_values("night").iloc[-1]
    return (
        f"Night flow of {name}, {day(known['night'].min())} to {day(known['night'].max())}: "
        f"leakage lowest {known['leakage_l_s'].min():.2f}, highest "
        f"{known['leakage_l_s'].max():.2f}, last {last['leakage_l_s']:.2f} L/s."
    )


def interval_bar(value: float, low: float, high: float, *, top_l_s: float) -> str:
    """A value and its limits on a line from 0 to `top_l_s`: a small inline SVG, "" if unknown."""
    if missing(value) or not top_l_s > 0:
        return ""
    width = 88.0

    def _x(at: float) -> float:
        return round(4 + (width - 8) * min(max(at / top_l_s, 0.0), 1.0), 1)

    left, right = (value if missing(low) else low), (value if missing(high) else high)
    return (
        f'<svg class="interval" viewBox="0 0 {width:.0f} 14" width="{width:.0f}" height="14" '
        f'aria-hidden="true"><path d="M4 1v12" stroke="{palette.QUIET}"/>'
        f'<path d="M{_x(left)} 7H{_x(right)}" stroke="{palette.LEAKAGE}" stroke-width="5" '
        f'stroke-opacity=".35"/><circle cx="{_x(value)}" cy="7" r="4" fill="{palette.LEAKAGE}"/>'
        "</svg>"
    )


def _every_night(nights: pd.DataFrame) -> pd.DataFrame:
    series = nights.set_index(pd.DatetimeIndex(nights["night"]).normalize()).sort_index()
    if series.empty:
        return series
    return series.reindex(pd.date_range(series.index[0], series.index[-1], freq="D"))


def _bands(axes: Any, series: pd.DataFrame) -> None:
    x = series.index.to_numpy()

    def y(name: str) -> np.ndarray[Any, Any]:
        return np.asarray(pd.to_numeric(series[name]).to_numpy(dtype=float))

    axes.fill_between(
        x, y("leakage_l_s_low"), y("leakage_l_s_high"), color=palette.BAND, lw=0,
        label="95 % limits",
    )  # fmt: skip
    _line(axes, x, y("inflow_l_s"), "net inflow", color=palette.INFLOW, lw=1.0)
    _line(axes, x, y("background_l_s"), "expected background", color=palette.INK, lw=1.0, ls=":")
    _line(axes, x, y("leakage_l_s"), "leakage", color=palette.LEAKAGE, lw=1.8)
    guessed = series["status"].eq("estimated").to_numpy(dtype=bool) & np.isfinite(y("leakage_l_s"))
    if guessed.any():
        axes.plot(
            x[guessed], y("leakage_l_s")[guessed], ls="none", marker="o", ms=3.2, mfc="white",
            mec=palette.LEAKAGE, mew=0.9, zorder=4, label="estimated night",
        )  # fmt: skip


def _seven_nights(axes: Any, seven: pd.DataFrame, dates: pd.DatetimeIndex) -> None:
    at = pd.DatetimeIndex(seven["night"]).normalize()
    flows = pd.Series(pd.to_numeric(seven["minimum_night_flow_l_s"]).to_numpy(dtype=float), at)
    shown = flows[~flows.index.duplicated(keep="last")].reindex(dates)
    if shown.notna().any():
        _line(
            axes, dates.to_numpy(), shown.to_numpy(), "lowest hour, 7 nights",
            color=palette.SEVEN_NIGHTS, lw=1.3, ls=(0, (5, 1.5)),
        )  # fmt: skip


def _line(axes: Any, x: Any, y: Any, label: str, **style: Any) -> None:
    axes.plot(x, y, label=label, **style)
    # A night between two gaps has no line to stand on: draw it as a dot.
    known = np.isfinite(y)
    beside = np.zeros_like(known)
    beside[1:] |= known[:-1]
    beside[:-1] |= known[1:]
    alone = known & ~beside
    if alone.any():
        axes.plot(x[alone], y[alone], ls="none", marker="o", ms=2.5, color=style["color"])


def _events(axes: Any, events: pd.DataFrame, dates: pd.DatetimeIndex) -> None:
    label = "event starts"
    for _, event in events.iterrows():
        if missing(event["start"]) or dates.empty:
            continue
        start = pd.Timestamp(event["start"])
        if not dates[0] <= start <= dates[-1]:
            continue
        low, high = event["since_first"], event["since_last"]
        if not missing(low) and not missing(high):
            axes.axvspan(
                max(pd.Timestamp(low), dates[0]), min(pd.Timestamp(high), dates[-1]),
                color=palette.EVENT, alpha=0.12, lw=0,
            )  # fmt: skip
        axes.axvline(start, color=palette.EVENT, lw=1.1, ls=(0, (4, 2)), label=label)
        label = "_again"


def _works(axes: Any, series: pd.DataFrame) -> None:
    marked = series.index[~series["works"].map(missing).to_numpy(dtype=bool)]
    if len(marked):
        axes.plot(
            marked, np.zeros(len(marked)), ls="none", marker="^", ms=6, color=palette.WORKS,
            mec="white", mew=0.6, clip_on=False, zorder=5, label="recorded works",
        )  # fmt: skip


def _dress(axes: Any, series: pd.DataFrame) -> None:
    from matplotlib import dates

    axes.set_ylabel("L/s")
    locator = dates.AutoDateLocator(minticks=3, maxticks=7)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))
    plain_axes(axes)
    if not series.empty:
        axes.set_xlim(series.index[0], series.index[-1] + pd.Timedelta(days=1))
        lows = pd.to_numeric(series["leakage_l_s_low"])
        axes.set_ylim(bottom=min(0.0, float(lows.min()) if lows.notna().any() else 0.0))
