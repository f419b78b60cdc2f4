"""The change at the pressure loggers, in a sentence."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.model import Reals
from district.locate.pressure_hours import BLOCKS_COUNT
from district.locate.pressure_likelihood import Change
from district.words import figure, listed

_SHOWN = 3
_CLEAR = 1.96
_CLEARLY = 1.2
"""A movement of so many times its limit is told: of less the lower limit is shown as nothing."""


def seen_by_loggers(change: Change, logger_id: Any, weight: Reals) -> str:
    """What moved where, beyond what the measured flows explain.

    Parameters: `logger_id` ids by position; `weight` (P) how likely a leak is at each point before
    the loggers are asked.
    """
    count = len(change.seen_m) // BLOCKS_COUNT
    highest = slice((BLOCKS_COUNT - 1) * count, BLOCKS_COUNT * count)
    names = [str(logger_id[g]) for g in change.logger[highest]]
    # Against the loggers' mean: what the source does moves all of them alike.
    own = np.eye(count) - (1 / count if count > 1 else 0.0)
    seen = own @ change.seen_m[highest]
    half = _CLEAR * np.sqrt(np.diag(own @ change.noise[highest, highest] @ own.T))
    clear = np.flatnonzero(np.abs(seen) > _CLEARLY * half)
    clear = clear[np.argsort(-np.abs(seen[clear]), kind="stable")]
    than = " against the mean of the loggers" if count > 1 else ""
    beyond = "At the hours of most use, after allowing for the measured flows, "
    told = [
        f"{names[g]} {'fell' if seen[g] < 0 else 'rose'} by "
        + figure(abs(seen[g]), abs(seen[g]) - half[g], abs(seen[g]) + half[g], name="change_m")
        for g in clear[:_SHOWN]
    ]
    more = f" ({len(clear) - _SHOWN} more moved)" if len(clear) > _SHOWN else ""
    none = f"no logger moved clearly ({listed(names)})"
    said = beyond + (", ".join(told) + more if told else none) + than
    if told_apart(change, weight) < 1:
        said += "; the loggers cannot tell apart the pipes of this zone for a leak of this size"
    return said + "."


def told_apart(change: Change, weight: Reals) -> float:
    """Mean square distance of two leaks' signatures, drawn by `weight` (P), in units of noise."""
    lower = np.linalg.cholesky(change.noise)
    white = np.linalg.solve(lower, change.expected_m.T)
    weight = weight / weight.sum()
    centred = white - (white @ weight)[:, None]
    return float(2 * (centred**2).sum(axis=0) @ weight)
