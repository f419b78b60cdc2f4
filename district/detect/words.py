"""Why an event is taken for what it is, in the words of its reason."""

from __future__ import annotations

import pandas as pd

from district.detect.accused import Accused
from district.detect.recorded import Work
from district.detect.runs import Run
from district.words import brief, day

SHORT_NIGHTS = 5
"""A rise that vanished by itself within this many nights was somebody's use."""


def kind_and_reason(
    place_kind: str,
    run: Run,
    axis: pd.DatetimeIndex,
    *,
    explained: Work | None,
    nearby: Work | None,
    mended: Work | None,
    partner: tuple[str, float, str] | None,
    meter: Accused | None = None,
) -> tuple[str, str]:
    """Kind (one of EVENT_KINDS) and reason of a run.

    `explained` is the work that accounts for it, `nearby` one that only fell on the same days,
    `mended` a repair when it ended; `partner` the cell whose flow fell by as much, by how much
    (L/s), and what lies between; `meter` one that began to read wrong and makes the rise on paper.
    """
    rose = _rise(run)
    ended = "" if run.last is None else f", until it fell back after {day(axis[run.last])}"
    if mended is not None:
        ended += f" ({mended.words()})"
    if explained is not None:
        return ("meter_fault" if explained.kind == "meter_change" else "use"), (
            f"{rose} during {explained.words()}{ended}"
        )
    if meter is not None:
        other = f"what zone {meter.other_cell_id} seems to lose" if meter.other_cell_id else "water"
        return "meter_fault", (
            f"{rose} when {meter.words()}: zone {meter.cell_id} seems to gain {other}, "
            f"and no water is lost. Check the meter{ended}"
        )
    if partner is not None:
        other, fall, through = partner
        return "boundary", (
            f"{rose} while zone {other} fell by {brief(fall)} L/s within a few nights: "
            f"together nothing changed. Check {through} between them{ended}"
        )
    nights = 0 if run.last is None else run.last - run.position + 1
    if 0 < nights <= SHORT_NIGHTS:
        return "use", f"{rose} and went back by itself after {nights} nights"
    if run.last is None and run.growth_l_s_d == 0:
        rose += " and stayed up"
    reason = rose + ended
    if run.fell_l_s > 0:
        since = "less since" if run.last is None else "went before that"
        reason += f"; partly gone: {brief(run.fell_l_s)} L/s {since}"
    if nearby is not None:
        reason += f"; {nearby.words()} fell on the same days: check that it is not the cause"
    if place_kind == "building":
        return "building_flow", reason
    return ("growing_leak" if run.growth_l_s_d > 0 else "leak"), reason


def _rise(run: Run) -> str:
    if run.growth_l_s_d > 0:
        return f"night flow grew by {brief(run.growth_l_s_d)} L/s a day"
    size = brief(run.size_l_s() + run.fell_l_s)
    if run.rise_nights > 1:
        return f"night flow rose by {size} L/s in steps over {run.rise_nights + 1} nights"
    return f"night flow rose by {size} L/s from one night to the next"
