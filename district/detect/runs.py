"""From changes of level to runs: flows that began, grew, shrank and ended in one series."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from district.detect.baseline import Reals
from district.detect.change import MEMORY_NIGHTS, Change, level
from district.detect.first_night import first_nights
from district.detect.fit import BEFORE_NIGHTS, growing

MERGE_NIGHTS = 10
"""Rises this close together are one event."""
RETURN_NIGHTS = 28
"""A rise this soon after an unexplained fall is, up to its size, only a return."""
_LEFT = 0.3  # a run has ended when less than this share of it is left


@dataclass(frozen=True, eq=False)
class Run:
    """One flow above the baseline. Nights are positions in the series."""

    position: int
    low: int
    high: int
    detected: int
    base_l_s: float
    flow_l_s: Reals
    """Shape (nights,): what it adds on each night, 0 before it began and after it ended."""
    error_l_s: float
    """Standard error of its size on its last night."""
    growth_l_s_d: float = 0.0
    last: int | None = None
    """Last night it ran, None while it runs."""
    fell_l_s: float = 0.0
    """How much of it went without ending it."""
    rise_nights: int = 0
    """Nights between its first step and its last."""
    first_nights: tuple[int, int] | None = None
    """First and last likely first night, whether it stepped or grew: what people are told. `low`
    and `high` hold for a flow of the shape taken, and tell which days to compare: a long thin tail
    would leave none."""

    def likely_start(self) -> tuple[int, int]:
        """Limits (95 %) of the night it began."""
        low, high = self.first_nights or (self.low, self.high)
        return min(low, self.position), max(high, self.position)

    def size_l_s(self) -> float:
        """Flow on the last night it ran (or of the record)."""
        return float(self.flow_l_s[-1 if self.last is None else self.last])


@dataclass(frozen=True)
class Fall:
    """A lasting fall, and whether it is the end (or part) of a run."""

    change: Change
    explained: bool


def runs(
    x: Reals,
    *,
    sigma_l_s: float,
    found: Sequence[Change],
    smallest_l_s: float = 0.0,
    aside: Collection[int] = (),
) -> tuple[tuple[Run, ...], tuple[Fall, ...]]:
    """Group rises into runs, and end or reduce them by the falls that follow.

    Parameters: `x` flow in L/s, shape (nights,); `found` its changes, oldest first; `aside` the
    positions of falls that something else explains, which so end nothing; falls smaller than
    `smallest_l_s` end nothing either.
    """
    done: list[Run] = []
    falls: list[Fall] = []
    i = 0
    while i < len(found):
        if found[i].size_l_s > 0:
            run, used = _begun(x, sigma_l_s, found, i)
            run = replace(run, first_nights=_first_nights(x, sigma_l_s, found, i, used))
            back = _returned(found[i], falls)
            if back > 0:
                falls[-1] = replace(falls[-1], explained=True)
                run = replace(run, flow_l_s=np.maximum(run.flow_l_s - back, 0.0))
            if back == 0 or run.size_l_s() > max(_LEFT * back, 2 * run.error_l_s):
                done.append(run)
            i += used
            continue
        other = found[i].position in aside or -found[i].size_l_s < smallest_l_s
        falls.append(Fall(found[i], not other and _ended(x, sigma_l_s, found, i, done)))
        i += 1
    return tuple(done), tuple(falls)


def _begun(x: Reals, sigma: float, found: Sequence[Change], i: int) -> tuple[Run, int]:
    ramp, used = growing(x, sigma, found, i)
    t = np.arange(len(x))
    if ramp is not None:
        end = found[i + used].position if i + used < len(found) else len(x)
        held = min(ramp.stop, end)
        # A line that still rises on the last known night goes on rising over missing ones.
        if end == len(x) and not np.isfinite(x[ramp.stop + 1 :]).any():
            held = len(x) - 1
        rise = np.clip(t - (ramp.position - 1), 0, held - ramp.position + 1)
        run = Run(
            position=ramp.position,
            low=ramp.low,
            high=ramp.high,
            detected=max(found[i].detected, ramp.position),
            base_l_s=ramp.base_l_s,
            flow_l_s=np.asarray(ramp.growth_l_s_d * rise, dtype=float),
            error_l_s=ramp.error_l_s_d * (held - ramp.position + 1),
            growth_l_s_d=ramp.growth_l_s_d,
        )
        return run, used
    used = 1
    while (
        i + used < len(found)
        and found[i + used].size_l_s > 0
        and found[i + used].position - found[i + used - 1].position <= MERGE_NIGHTS
    ):
        used += 1
    flow: Reals = np.zeros(len(x))
    for change in found[i : i + used]:
        flow[change.position :] += change.size_l_s
    first, last = found[i], found[i + used - 1]
    begin = max(found[i - 1].position if i else 0, first.position - MEMORY_NIGHTS)
    base, before = level(x, begin, first.position, sigma)
    _, after = _after(x, sigma, found, i + used - 1)
    run = Run(
        position=first.position,
        low=first.low,
        high=first.high,
        detected=first.detected,
        base_l_s=base,
        flow_l_s=flow,
        error_l_s=last.error_l_s if used == 1 else sigma * float(np.sqrt(1 / before + 1 / after)),
        rise_nights=last.position - first.position,
    )
    return run, used


def _first_nights(
    x: Reals, sigma: float, found: Sequence[Change], i: int, used: int
) -> tuple[int, int] | None:
    begin = max(found[i - 1].position if i else 0, found[i].position - BEFORE_NIGHTS)
    end = found[i + used].position if i + used < len(found) else len(x)
    end = min(end, found[i].position + BEFORE_NIGHTS)
    return first_nights(x, begin, end, sigma, latest=found[i].detected)


def _returned(rise: Change, falls: list[Fall]) -> float:
    """How much of a rise only brings back what fell shortly before, L/s."""
    if not falls or falls[-1].explained:
        return 0.0
    fall = falls[-1].change
    soon = rise.position - fall.position <= RETURN_NIGHTS
    return -fall.size_l_s if soon else 0.0


def _after(x: Reals, sigma: float, found: Sequence[Change], i: int) -> tuple[float, int]:
    end = found[i + 1].position if i + 1 < len(found) else len(x)
    return level(x, found[i].position, min(end, found[i].position + MEMORY_NIGHTS), sigma)


def _ended(x: Reals, sigma: float, found: Sequence[Change], i: int, done: list[Run]) -> bool:
    """Take fall `found[i]` off the open runs in `done`; whether there was one to take it off."""
    at, fall, error = found[i].position, -found[i].size_l_s, found[i].error_l_s
    running = [j for j, r in enumerate(done) if r.last is None and r.position < at]
    if not running:
        return False
    left = {j: float(done[j].flow_l_s[at - 1]) for j in running}
    if len(running) == 1 and done[running[0]].growth_l_s_d > 0:
        # The level before the fall is a mean over growth: the whole way down counts.
        only = done[running[0]]
        fall = max(fall, only.base_l_s + left[running[0]] - _after(x, sigma, found, i)[0])
    closest = min(running, key=lambda j: abs(left[j] - fall))
    together = sum(left.values())
    ending = running if abs(together - fall) < abs(left[closest] - fall) else [closest]
    rest = sum(left[j] for j in ending) - fall
    over = rest < max(_LEFT * sum(left[j] for j in ending), 2 * error)
    for j in ending:
        flow = done[j].flow_l_s.copy()
        if over:
            flow[at:] = 0.0
            done[j] = replace(done[j], flow_l_s=flow, last=at - 1)
        else:
            gone = fall * left[j] / max(sum(left[k] for k in ending), 1e-12)
            flow[at:] = np.maximum(flow[at:] - gone, 0.0)
            done[j] = replace(
                done[j], flow_l_s=flow, fell_l_s=done[j].fell_l_s + gone, growth_l_s_d=0.0
            )
    return True
