"""How an event stands, and the recorded work that explains or ended it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from district.detect.recorded import CAUSES, Work, explaining, near
from district.detect.runs import Run


@dataclass(frozen=True)
class OnRecord:
    """Works around one rise."""

    explained: Work | None
    """It accounts for the rise ..."""
    nearby: Work | None
    """... or only fell on the same days."""
    mended: Work | None
    """The repair with which it ended."""


def on_record(
    place_id: str, run: Run, axis: pd.DatetimeIndex, works: tuple[Work, ...], *, last: int
) -> OnRecord:
    """The works that matter to a run at a place; `last` its last night or the latest known."""
    low, high = axis[run.low], axis[run.high]
    explained = explaining(
        place_id, works, start=axis[run.position], low=low, high=high, last=axis[last]
    )
    mended = None
    if run.last is not None:
        mended = near(place_id, works, ("repair",), low=axis[run.last], high=axis[run.last])
        begun = mended is not None and mended.last < low
        mended = None if begun else mended
    nearby = near(place_id, works, CAUSES, low=low, high=high)
    return OnRecord(explained, None if nearby is mended else nearby, mended)


def stands(run: Run, kind: str, record: OnRecord) -> tuple[str, str]:
    """State (one of EVENT_STATES) and the work that explains or ended it, '' if none.

    Water drawn on record explains a rise while it lasts, a changed meter one that stays, and an
    operated valve water that moves between zones. What ended with a repair on record is repaired;
    what ended without is ended.
    """
    work = record.explained
    if work is not None and kind == ("meter_fault" if work.kind == "meter_change" else "use"):
        return "explained", work.words()
    nearby = record.nearby
    if kind == "boundary" and nearby is not None and nearby.kind == "valve_operation":
        return "explained", nearby.words()
    if run.last is None:
        return "open", ""
    if record.mended is not None:
        return "repaired", record.mended.words()
    return "ended", ""
