"""What passed through a meter while the premises behind it stood empty."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.words import brief, day, figure

_TWO_CUTS = 1.96 / math.sqrt(6.0)
"""95 % limit, in steps, of the difference of two readings each cut to a step: triangular."""
_INSIDE_SHARE = 0.5
_PEAK = 3.0
"""Use at the ends of the period, over the meter's usual mean (common practice, no source)."""
_HOUR_US = 3_600_000_000
_INSTANT_H = 1e-3
"""Less is no interval but what sums of lengths leave over."""
Array = np.ndarray[Any, Any]


def passed_while_empty(
    start_us: Array,
    end_us: Array,
    volume_m3: Array,
    span: tuple[int, int],
    *,
    resolution_m3: float,
    error_share: float,
    whole: tuple[float, float] | None = None,
) -> tuple[float, float, float, float] | None:
    """Volume in m³ (estimate, low, high; 95 %) and hours over which it passed; None if not read.

    From the first reading within `span` (µs UTC) to the last where these bracket at least half
    of it. Else from the last before to the first after; then what may have been used outside
    the span, up to three times the usual mean, is in the lower limit. `whole` is volume (m³) and
    length (h) of all usable intervals of the record, where those given are only some of it.
    """
    known = np.isfinite(volume_m3)
    slack_m3 = _TWO_CUTS * float(np.nan_to_num(resolution_m3))
    length_h = (end_us - start_us) / _HOUR_US
    empty_h = (span[1] - span[0]) / _HOUR_US
    inside = known & (start_us >= span[0]) & (end_us <= span[1])
    if length_h[inside].sum() >= _INSIDE_SHARE * empty_h:
        volume, hours = float(volume_m3[inside].sum()), float(length_h[inside].sum())
        slack_m3 += float(np.nan_to_num(error_share)) * abs(volume)
        return volume, max(volume - slack_m3, min(volume, 0.0)), volume + slack_m3, hours
    over = known & (start_us < span[1]) & (end_us > span[0])
    if not over.any() or start_us[over].min() > span[0] or end_us[over].max() < span[1]:
        return None
    volume, hours = float(volume_m3[over].sum()), float(length_h[over].sum())
    if hours < empty_h * (1 - 1e-9):
        return None
    slack_m3 += float(np.nan_to_num(error_share)) * abs(volume)
    all_m3, all_h = whole or (float(volume_m3[known].sum()), float(length_h[known].sum()))
    other_h = all_h - hours
    usual = (all_m3 - volume) / other_h if other_h > _INSTANT_H else math.inf
    used = _PEAK * max(usual, 0.0) * (hours - empty_h) if hours > empty_h else 0.0
    low = max(volume - slack_m3 - used, min(volume, 0.0))
    return volume * empty_h / hours, low, volume + slack_m3, empty_h


def told_empty(
    start_us: Array,
    end_us: Array,
    volume_m3: Array,
    spans: tuple[tuple[int, int], ...],
    *,
    resolution_m3: float,
    error_share: float,
    timezone: str,
    whole: tuple[float, float] | None = None,
) -> list[Finding]:
    """A finding a period: what passed, at what flow, with its limits; its file comes later.

    Arrays hold at least the intervals that touch the periods; `whole` as of
    `passed_while_empty`.
    """
    found = []
    for span in spans:
        first, last = (
            day(pd.Timestamp(us, unit="us", tz="UTC").tz_convert(timezone)) for us in span
        )
        passed = passed_while_empty(
            start_us,
            end_us,
            volume_m3,
            span,
            resolution_m3=resolution_m3,
            error_share=error_share,
            whole=whole,
        )
        if passed is None:
            found.append(
                Finding(
                    "note",
                    "",
                    got=f"no two readings around {first} to {last}, when the premises were empty",
                    expected="one at the start and one at the end of that time",
                    remedy="Read the meter when people leave and when they come back",
                )
            )
            continue
        volume, low, high, hours = passed
        litres = 1000.0 / (hours * 60.0)
        flow = figure(volume * litres, low * litres, high * litres, "flow_l_min")
        leaks = low > 0
        found.append(
            Finding(
                "warning" if leaks else "note",
                "",
                got=f"{figure(volume, low, high, 'volume_m3')} in {brief(hours / 24.0)} days while "
                f"the premises were empty, {first} to {last}: {flow}",
                expected="nothing, as nobody was there",
                remedy="Look behind this meter for a leak, an overflowing cistern or a tap left "
                "open, before the next time they stand empty"
                if leaks
                else "Nothing need be done; no more can have passed",
            )
        )
    return found
