"""Which of the settings tried is advised, in words, or why none is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.detect.shutoff_leaks import ASSUMED_L_S, UNNOTICED_H, Leak
from district.detect.shutoff_replay import trip_times_h
from district.units import M3_PER_L_S_H
from district.words import brief, figure, plural

WORTH_SHARE = 0.5
"""A setting with which more of the water would have been lost than this is not advised.
Common practice, no source."""
_BURST_L_S = max(ASSUMED_L_S.values())


def advised(curve: pd.DataFrame, *, leaked_m3: float, false_trips_per_year: float) -> int | None:
    """Row of the curve to advise: least water lost among those that trip falsely no more often than
    accepted, by the best estimate; none where no such setting saves water worth it.

    The best estimate decides, not its upper limit: a year without a false trip leaves up to 3.7 a
    year, and nothing could be advised before seven years were replayed. The limit is shown beside.
    """
    allowed = _allowed(curve, false_trips_per_year)
    if allowed.empty:
        return None
    best = allowed["leaked_with_m3"].idxmin()
    saves = float(allowed.at[best, "leaked_with_m3"]) <= WORTH_SHARE * leaked_m3
    return int(best) if saves else None


def advice(
    chosen: pd.Series,
    leaks: Sequence[Leak],
    leaked_m3: tuple[float, float, float],
    *,
    step_h: float,
    too_small_count: int = 0,
) -> str:
    """The setting in words: what it would have saved, how often it trips, how a burst would run.

    `leaks` are those it was held against, none where leaks were assumed; `too_small_count` is of
    past leaks that no setting would have caught without more false trips than accepted.
    """
    false = [chosen[f"false_trips_per_year{limit}"] for limit in ("", "_high")]
    lost = figure(*leaked_m3, "leaked_m3")
    value, low, high = (float(chosen[f"leaked_with_m3{end}"]) for end in ("", "_low", "_high"))
    kept = figure(value, low, high, "leaked_m3")
    if leaks:
        told = f"{plural(len(leaks), 'past leak')} lost {lost}, and would have lost {kept} with it"
    else:
        sizes = " and ".join(f"{name} of {brief(l_s)} L/s" for name, l_s in ASSUMED_L_S.items())
        why = (
            f"Nothing would have caught {plural(too_small_count, 'past leak')} without too many "
            "false trips"
            if too_small_count
            else "No leak is on record"
        )
        told = (
            f"{why}; {sizes}, assumed, would lose {lost} in {UNNOTICED_H:.0f} h "
            f"unseen, and {kept} with it"
        )
    burst = brief(_BURST_L_S * M3_PER_L_S_H * chosen["trip_h"])
    return (
        f"Trip when more than {chosen['trip_l_s']:g} L/s runs for {hours_said(chosen['trip_h'])} "
        f"without a break. {told}. False trips: {brief(false[0])} a year, at most "
        f"{brief(false[1])} by this history. A burst of {_BURST_L_S:g} L/s would lose {burst} m³ "
        f"before it trips. Readings every {hours_said(step_h)} cannot speak of times under "
        f"{hours_said(float(trip_times_h(step_h)[0]))}."
    )


def why_none(curve: pd.DataFrame, leaked_m3: float, *, false_trips_per_year: float) -> str:
    """Why no setting of the curve is advised."""
    if curve.empty:
        return "None advised: nothing passed this meter in the time replayed"
    least = float(curve["false_trips_per_year"].min())
    if _allowed(curve, false_trips_per_year).empty:
        return (
            f"None advised: every setting tried would have tripped without a leak, at the least "
            f"{brief(least)} times a year where {brief(false_trips_per_year)} are accepted"
        )
    allowed = _allowed(curve, false_trips_per_year)
    kept = float(np.min(allowed["leaked_with_m3"]))
    return (
        f"None advised: with no more than {brief(false_trips_per_year)} false trips a year it "
        f"would have saved {brief(max(leaked_m3 - kept, 0.0))} of {brief(leaked_m3)} m³, too little"
    )


def _allowed(curve: pd.DataFrame, false_trips_per_year: float) -> pd.DataFrame:
    # One in two years less a few hours is what '0.5 a year' means.
    return curve[curve["false_trips_per_year"].round(2) <= false_trips_per_year]


def hours_said(time_h: float) -> str:
    """A time in words: minutes below an hour.

    >>> hours_said(0.5), hours_said(4.0), hours_said(1.5)
    ('30 min', '4 h', '1.5 h')
    """
    return f"{60 * time_h:.0f} min" if time_h < 1 - 1e-9 else f"{time_h:g} h"
