"""Where in a register's record the meter was changed, by the works recorded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

_ABOVE_USUAL = 4.0
Array = np.ndarray[Any, Any]
Span = tuple[int, int]
"""Start and end, microseconds UTC."""


def changed_at(time_us: Array, value: Array, spans: Sequence[Span]) -> list[int]:
    """Positions of the first reading of each new meter, among readings in order of time.

    In each span the deepest fall after which the register does not come back is the change;
    without one, a rise more than four times as fast as any outside the span. A span in which the
    register just goes on says nothing.
    """
    if not spans:
        return []
    found: set[int] = set()
    step = np.diff(value)
    rate = step / np.maximum(np.diff(time_us), 1)
    for start, end in spans:
        first = max(int(np.searchsorted(time_us, start, side="right")) - 1, 0)
        last = min(int(np.searchsorted(time_us, end, side="left")), len(step))
        if last <= first:
            continue
        inside = step[first:last]
        at = first + int(np.argmin(inside))
        if step[at] < 0:
            misread = at + 2 < len(value) and value[at + 2] >= value[at]
            if not misread:
                found.add(at + 1)
            continue
        others = np.delete(rate, np.s_[first:last])
        at = first + int(np.argmax(rate[first:last]))
        if len(others) >= 2 and rate[at] > _ABOVE_USUAL * others.max() > 0:
            found.add(at + 1)
    return sorted(found)
