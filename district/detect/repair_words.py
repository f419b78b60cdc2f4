"""Whether a repair worked, and the same in a sentence for the foreman."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.words import brief, day, plural

Z = 1.959964
"""97.5 % quantile of the normal distribution."""
GONE_SHARE = 0.1
"""A rise is gone where no more than this share of it is left, or nothing that stands out."""
_LIKE = 0.3  # a drop differs from a flow by no more than this share of it, or by its error


@dataclass(frozen=True)
class Repaired:
    """A repair at one place; flows in L/s, `_error` their standard errors, NaN if unknown."""

    before_count: int
    after_count: int
    more_nights: int
    """Nights that must still come before the drop can be told."""
    rise_l_s: float
    """What ran above the baseline before it; NaN where no event did."""
    rise_error_l_s: float
    drop_l_s: float
    drop_error_l_s: float
    rest_l_s: float
    rest_error_l_s: float
    flows_count: int
    """Flows that ran before it."""
    eased_l_s: float
    """The one of them that it ended or eased."""
    following: pd.Timestamp | None = None
    """First night of a rise that began soon after."""
    following_l_s: float = float("nan")


def verdict(found: Repaired, *, smallest_l_s: float) -> str:
    """One of REPAIR_VERDICTS, by the rules of `repairs.check_repairs`."""
    if found.more_nights > 0:
        return "too_early"
    clear = found.drop_l_s > max(Z * found.drop_error_l_s, smallest_l_s)
    if not clear:
        return "not_seen"
    if found.following is not None:
        return "another_leak"
    least = max(GONE_SHARE * found.rise_l_s, smallest_l_s)
    left = found.rest_l_s > max(Z * found.rest_error_l_s, least)
    if not left:  # So too where no event ran.
        return "verified"
    apart = abs(found.drop_l_s - found.eased_l_s)
    whole = apart <= max(Z * found.drop_error_l_s, _LIKE * found.eased_l_s)
    return "another_leak" if found.flows_count > 1 and whole else "partly"


def said(found: Repaired, *, told: str, repair: str, place: str) -> str:
    """The verdict `told` in a sentence; `repair` the work in words, `place` 'zone V1'."""
    begun = f"After {repair}"
    if told == "too_early":
        more = plural(found.more_nights, "more night")
        sofar = ""
        if found.after_count and np.isfinite(found.drop_l_s):
            sofar = f", so far {_by(found.drop_l_s)}"
        return f"{begun} it is too early to tell at {place}{sofar}: wait for {more}"
    if not found.before_count or not found.after_count:
        missing = "before" if not found.before_count else "after"
        return f"{begun} nothing can be told at {place}: there is no sound night {missing} it"
    drop = _limits(found.drop_l_s, found.drop_error_l_s)
    if told == "not_seen":
        ran = "" if np.isnan(found.rise_l_s) else f", though {brief(found.rise_l_s)} L/s ran there"
        return (
            f"{begun} no drop of the night flow of {place} is seen (change {drop} L/s{ran}): "
            "check that the right leak was mended"
        )
    fell = f"{begun} the night flow of {place} fell by {drop} L/s"
    if np.isnan(found.rise_l_s) and told == "verified":
        return f"{fell}, though no event was open there: the repair shows"
    if told == "verified":
        return f"{fell}: the rise of {brief(found.rise_l_s)} L/s is gone, the repair is verified"
    left = _limits(found.rest_l_s, found.rest_error_l_s)
    if told == "partly":
        return (
            f"{fell}, but {left} L/s of the rise is left: look for a second break near by, or a "
            "repair that does not hold"
        )
    if found.following is not None:
        return (
            f"{fell}, but on {day(found.following)} it rose again by "
            f"{brief(found.following_l_s)} L/s: another leak, or the pipe gave way near by when "
            "pressure came back"
        )
    return f"{fell}: that leak is mended, but {left} L/s of another rise goes on"


def _by(drop_l_s: float) -> str:
    way = "down" if drop_l_s >= 0 else "up"
    return f"{way} by {brief(abs(drop_l_s))} L/s"


def _limits(value_l_s: float, error_l_s: float) -> str:
    half = Z * error_l_s
    return f"{brief(value_l_s)} ({brief(value_l_s - half)} to {brief(value_l_s + half)})"
