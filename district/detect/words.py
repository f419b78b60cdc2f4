"""Why an event is taken for what it is, in the words of its reason."""

from __future__ import annotations

import pandas as pd

from district.detect.accused import Accused
from district.detect.causes import LEAKS, NOT_RULED_OUT
from district.detect.neighbours import Opposite
from district.detect.runs import Run
from district.detect.states import OnRecord
from district.words import brief, day, percent


def reason(
    kind: str,
    run: Run,
    axis: pd.DatetimeIndex,
    *,
    place_kind: str,
    record: OnRecord,
    speaking: str,
    leak_share: float,
    other: Opposite | None,
    meter: Accused | None,
) -> str:
    """The reason of an event of `kind`.

    `record` the works around it, `speaking` what speaks most for its kind, `leak_share` the
    probability of a leak, `other` the zone that changed the opposite way, `meter` one that the
    balance found to be off since then.
    """
    told = _rise(run)
    ended = "" if run.last is None else f", until it fell back after {day(axis[run.last])}"
    if record.mended is not None:
        ended += f" ({record.mended.words()})"
    explained = record.explained
    by_work = explained is not None and kind == (
        "meter_fault" if explained.kind == "meter_change" else "use"
    )
    if explained is not None and by_work:
        told += f" during {explained.words()}{ended}"
    elif kind == "meter_fault":
        told += _meter(meter, other, speaking) + ended
    elif kind == "boundary":
        told += _boundary(other) + ended
    else:
        if run.last is None and run.growth_l_s_d == 0:
            told += " and stayed up"
        told += ended
        if kind in ("use", "unknown"):
            told += f": {speaking}" if speaking else ": no cause explains it well"
    if run.fell_l_s > 0:
        since = "less since" if run.last is None else "went before that"
        told += f"; partly gone: {brief(run.fell_l_s)} L/s {since}"
    if record.nearby is not None and record.nearby is not explained:
        told += f"; {record.nearby.words()} fell on the same days: check that it is not the cause"
    elif explained is not None and not by_work:
        told += f"; {explained.words()} fell on the same days, but does not explain it"
    if kind not in LEAKS and leak_share >= NOT_RULED_OUT:
        what = "a leak" if place_kind == "zone" else "a flow that should not be there"
        told += f"; but {what} is not ruled out: {percent(leak_share, decimals=0)}"
    return told


def _meter(meter: Accused | None, other: Opposite | None, speaking: str) -> str:
    if meter is not None:
        gained = (
            f"what zone {meter.other_cell_id} seems to lose" if meter.other_cell_id else "water"
        )
        return (
            f" when {meter.words()}: zone {meter.cell_id} seems to gain {gained}, "
            "and no water is lost. Check the meter"
        )
    if other is not None:
        through = next((b for b in other.between if b.startswith("meter ")), other.between[0])
        return (
            f" while zone {other.cell_id} fell by {brief(-other.change_l_s)} L/s, as if a meter "
            f"read wrong ({speaking}): no water is lost. Check {through} between them"
        )
    why = f" ({speaking})" if speaking else ""
    return f", as if a meter read wrong{why}: no water is lost. Check the zone's meters"


def _boundary(other: Opposite | None) -> str:
    if other is None:
        return ", as if water came in from another zone. Check the valves around the zone"
    through = other.between[0]
    return (
        f" while zone {other.cell_id} fell by {brief(-other.change_l_s)} L/s within a few nights: "
        f"together nothing changed. Check {through} between them"
    )


def _rise(run: Run) -> str:
    if run.growth_l_s_d > 0:
        return f"night flow grew by {brief(run.growth_l_s_d)} L/s a day"
    size = brief(run.size_l_s() + run.fell_l_s)
    if run.rise_nights > 1:
        return f"night flow rose by {size} L/s in steps over {run.rise_nights + 1} nights"
    return f"night flow rose by {size} L/s from one night to the next"
