"""What speaks for and against each cause of a rise, beside its hours: one factor a cause.

Factors are logarithms of how likely what was seen is under each cause. Those of durations, works
and growth are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from district.detect.accused import Accused
from district.detect.baseline import Reals
from district.detect.neighbours import Opposite
from district.detect.recorded import Work
from district.detect.runs import Run
from district.schema.event_tables import CAUSE_KINDS
from district.settings import Settings
from district.words import brief, plural

SHORT_NIGHTS = 5
"""A rise that vanished by itself within so many nights was most likely somebody's use."""
NONE_LOG = -14.0
"""Log factor that rules a cause out, whatever else speaks for it."""
SWAPPED_LOG = -5.0
"""Log factor of any cause but the meter where one was changed on the same days."""


@dataclass(frozen=True)
class Evidence:
    """One thing seen, in words, and the log factor of each cause; 0 where it is not named."""

    text: str
    log: Mapping[str, float] = field(default_factory=dict)


_BYPASS = 0.5  # common practice, no source
# Share of each cause's rises that have gone after so many nights, without a repair on record, and
# of those that go on; leaks are repaired in the end though nobody writes it down.
_GONE = {
    SHORT_NIGHTS: (0.02, 0.005, 0.06, 0.08, 0.6, 0.2),
    30: (0.12, 0.1, 0.15, 0.15, 0.2, 0.25),
    10_000: (0.35, 0.3, 0.3, 0.3, 0.15, 0.3),
}
_GROWS = (0.03, 0.92, 0.2, 0.05, 0.15, 0.25)
"""Share of each cause's rises that grow night by night."""


def lasting(run: Run, *, nights_count: int, mended: Work | None) -> Evidence:
    """How long it ran: `nights_count` from its first night to its last or the latest known."""
    if mended is not None:
        works = {"use": -2.0, "meter_fault": -1.5, "boundary": -1.0, "unknown": -0.5}
        return Evidence(f"it fell back with {mended.words()}", works)
    parts = list(_GONE.items())
    if run.last is None:
        # It has lasted beyond every class that is over.
        over = [np.array(gone) for most, gone in parts if nights_count > most]
        lived = np.ones(len(CAUSE_KINDS)) - sum(over, np.zeros(len(CAUSE_KINDS)))
        nights = plural(nights_count, "night")
        text = f"it has lasted {nights}" if nights_count > SHORT_NIGHTS else f"{nights} so far"
        return Evidence(text, _logs(lived))
    gone = next(np.array(g) for most, g in parts if nights_count <= most)
    text = f"it went back by itself after {plural(nights_count, 'night')}"
    return Evidence(text, _logs(gone))


def growth(run: Run) -> Evidence:
    """Whether it grew."""
    grows = np.array(_GROWS)
    if run.growth_l_s_d > 0:
        return Evidence("it grew night by night", _logs(grows))
    return Evidence("it came in a step", _logs(1.0 - grows))


def works_seen(explained: Work | None, nearby: Work | None) -> list[Evidence]:
    """Works that account for it, or that only fell on the same days."""
    if explained is not None:
        swapped = explained.kind == "meter_change"
        kind = "meter_fault" if swapped else "use"
        # A leak may begin on the day a meter is changed; use that ends with its work is use.
        others = {k: SWAPPED_LOG if swapped else NONE_LOG for k in CAUSE_KINDS if k != kind}
        return [Evidence(f"{explained.words()} is on record", others)]
    if nearby is None:
        return []
    logs = {"valve_operation": {"boundary": 3.0, "meter_fault": 0.3}, "repair": {"boundary": 0.7}}
    return [Evidence(f"{nearby.words()} fell on the same days", logs.get(nearby.kind, {}))]


def off_meter(meter: Accused | None) -> list[Evidence]:
    """A meter that the balance found to be off since then, and that makes such a rise."""
    if meter is None:
        return []
    return [Evidence(f"the balance finds that {meter.words()}", {"meter_fault": 5.0})]


def opposite(found: Sequence[Opposite], *, touched: bool, from_outside: bool) -> list[Evidence]:
    """What the zones that touch did on the same nights.

    `touched`: whether any zone touches it; `from_outside`: a meter of the zone measures water from
    outside the district, so that the meter
    may be wrong without any other zone seeming to change.
    """
    if touched and not found:
        text = "what the zones that touch it did is not known"
        return [Evidence(text, {"boundary": -1.0, "meter_fault": -0.5})]
    if not found:
        # Only a connection to outside the district that nobody knows of would be left.
        return [Evidence("no other zone touches it", {"boundary": -4.0})]
    # Where the map shows a meter alone, water that moved unmetered takes a bypass it does not show.
    ratio = float(np.mean([np.exp(o.log) * (_BYPASS if o.only_meters() else 1.0) for o in found]))
    metered = [np.exp(o.log) for o in found if o.by_meter()]
    between = float(np.mean(metered)) if metered else 0.02
    outside = 0.6 if from_outside else 0.0
    logs = {
        "boundary": float(np.log(0.98 * ratio + 0.002)),
        "meter_fault": float(np.log(outside + (1 - outside) * 0.98 * between + 0.002)),
    }
    best = max(found, key=lambda o: o.log)
    if best.log > 0:
        text = (
            f"zone {best.cell_id} fell by {brief(max(-best.change_l_s, 0.0))} L/s on the same "
            "nights"
        )
    else:
        text = "no zone that touches it fell by as much"
    return [Evidence(text, logs)]


def holidays(
    start: pd.Timestamp, last: pd.Timestamp | None, *, settings: Settings
) -> list[Evidence]:
    """Whether it ran from the beginning to the end of a holiday, or began with one or after it."""
    night = pd.Timedelta(days=1)
    for holiday in settings.holidays:
        first = pd.Timestamp(holiday.first)
        end = pd.Timestamp(holiday.last or holiday.first)
        name = holiday.name or "a holiday"
        begins = min(abs(start - first), abs(start - (end + night))) <= night
        inside = start >= first - night and last is not None and last <= end + night
        if inside:
            return [Evidence(f"it ran only during {name}", {"use": 2.5, "unknown": 0.7})]
        if begins:
            return [Evidence(f"it began with the first or last day of {name}", {"use": 1.0})]
    return []


def on_weekdays(
    flow_l_s: Reals, run: Run, *, sigma_l_s: float, weekend: np.ndarray, last: int
) -> list[Evidence]:
    """Whether it runs on working days alone or at weekends alone, from nights.

    For want of hours: they tell the same better.
    """
    size = run.size_l_s() + run.fell_l_s
    nights = np.arange(run.high, last + 1)
    known = nights[np.isfinite(flow_l_s[nights])]
    rise = flow_l_s[known] - run.base_l_s
    parts = [rise[weekend[known] == part] for part in (False, True)]
    if min(len(p) for p in parts) < 3 or run.growth_l_s_d > 0:
        return []
    gap = float(parts[0].mean() - parts[1].mean())
    error = sigma_l_s * float(np.sqrt(sum(1 / len(p) for p in parts))) + 0.05 * size
    same = -0.5 * (gap / error) ** 2 - np.log(error)
    wide = float(np.hypot(error, 0.7 * size))
    unlike = -0.5 * (gap / wide) ** 2 - np.log(wide)
    ratio = float(np.clip(unlike - same, -2.0, 5.0))
    if ratio > 1:
        when = "working days" if gap > 0 else "Saturdays and Sundays"
        text = f"it is {brief(abs(gap))} L/s larger on {when}"
    else:
        text = "it is the same on working days and at weekends"
    # Half of all uses go by the week, so that the same on all days says little against use.
    use = float(np.log(0.5 + 0.5 * np.exp(ratio)))
    return [Evidence(text, {"use": use, "unknown": 0.5 * max(ratio, 0.0)})]


def _logs(shares: np.ndarray) -> dict[str, float]:
    return {k: float(np.log(max(s, 1e-3))) for k, s in zip(CAUSE_KINDS, shares, strict=True)}
