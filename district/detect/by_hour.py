"""What the hours of the day tell of each rise of a zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.detect.changed import Changed
from district.detect.evidence import Evidence
from district.detect.hours import Hours, beside_of, days_of, metered_neighbours
from district.detect.places import Place
from district.detect.profile import Shifts, shifts
from district.detect.runs import Run
from district.detect.shapes import SHAPES, Fits, fits, moved_between
from district.schema.event_tables import CAUSE_KINDS
from district.settings import Settings
from district.words import brief, percent

_AT_ONCE = 400  # changes held at once: some 40 MB
_STUCK = 0.15  # share of wrong meters that stand still: common practice, no source
_TELLS = 0.7  # log factors less apart than this tell nothing
_SATURDAY = 5


@dataclass(frozen=True, eq=False)
class ByHour:
    """What hours tell of runs, by zone and position of each."""

    causes: Mapping[tuple[str, int], Evidence]
    moved: Mapping[tuple[str, int], Mapping[str, float]]
    """For each touching zone whose hours are known the log ratio of `shapes.moved_between`."""


def hour_evidence(changed: Changed, hours: Hours, *, settings: Settings) -> ByHour:
    """Evidence of each run of a zone whose hours are known."""
    asked = [(p, r) for p, r in changed.runs if p.kind == "zone" and p.cell_id in hours.row]
    causes: dict[tuple[str, int], Evidence] = {}
    moved: dict[tuple[str, int], dict[str, float]] = {}
    for begin in range(0, len(asked), _AT_ONCE):
        _add(changed, asked[begin : begin + _AT_ONCE], hours, settings, causes, moved)
    return ByHour(causes, moved)


def _add(
    changed: Changed,
    asked: Sequence[tuple[Place, Run]],
    hours: Hours,
    settings: Settings,
    causes: dict[tuple[str, int], Evidence],
    moved: dict[tuple[str, int], dict[str, float]],
) -> None:
    flags = {
        "weekend": np.asarray(changed.axis.day_of_week >= _SATURDAY),
        "left_out": _holidays(changed.axis, settings),
    }
    night = _night_hours(settings)
    near = metered_neighbours(changed)
    scale = np.array([max(r.size_l_s() + r.fell_l_s, 1e-3) for _, r in asked])
    days = [days_of(place, run) for place, run in asked]
    own = shifts(hours, [p.cell_id for p, _ in asked], days, scale_l_s=scale, **flags)
    pairs = [
        (i, cell)
        for i, (place, run) in enumerate(asked)
        for cell in beside_of(changed, place, run, near)
        if cell in hours.row
    ]
    rows = np.array([i for i, _ in pairs], dtype=int)
    beside = shifts(
        hours, [c for _, c in pairs], [days[i] for i in rows], scale_l_s=scale[rows], **flags
    )
    meters = [[own.before_l_s[i]] for i in range(len(asked))]
    ratios = moved_between(own.of(rows), beside, scale[rows], night=night)
    for k, (i, cell) in enumerate(pairs):
        place, run = asked[i]
        if not beside.known[k]:
            continue
        moved.setdefault((place.place_id, run.position), {})[cell] = float(ratios[k])
        if cell in near.get(place.cell_id, ()):
            # The meter between them, or the one that feeds both.
            flow = beside.before_l_s[k]
            meters[i] += [flow, flow + own.before_l_s[i]]
    told = fits(own, scale, night=night, meters=meters)
    for i, (place, run) in enumerate(asked):
        if own.known[i]:
            causes[place.place_id, run.position] = _evidence(own, told, i, night)


def _evidence(own: Shifts, told: Fits, i: int, night: Any) -> Evidence:
    log = dict(zip(SHAPES, told.log[i], strict=True))
    meter = np.logaddexp(np.log(1 - _STUCK) + log["meter_fault"], np.log(_STUCK) + log["stuck"])
    kinds = {k: log["leak"] if k == "growing_leak" else log.get(k, 0.0) for k in CAUSE_KINDS}
    kinds["meter_fault"] = float(meter)
    if max(kinds.values()) - min(kinds.values()) < _TELLS:
        return Evidence("its hours do not tell the causes apart", kinds)
    return Evidence(_words(own, told, i, log, night), kinds)


def _words(own: Shifts, told: Fits, i: int, log: dict[str, float], night: Any) -> str:
    best = max(SHAPES, key=lambda s: log[s])
    at_night = float(own.change_l_s[i].reshape(2, 24)[:, night].mean())
    both = f"{brief(told.daily_l_s[i])} L/s over the day, {brief(at_night)} L/s at night"
    if best in ("leak", "boundary"):
        return f"it is about the same at all hours ({both})"
    if best == "meter_fault":
        share = percent(float(told.meter_share[i]), decimals=0)
        return f"it follows the flow hour by hour, as if {share} too much were read"
    if best == "stuck":
        return "the flow has hardly varied by the hour since"
    if best == "use":
        peak = int(told.peak_hour[i])
        when = "working days" if peak < 24 else "Saturdays and Sundays"
        hour = peak % 24
        return (
            f"it comes and goes by the hour, most at {hour}:00 to {hour + 1}:00 of {when} ({both})"
        )
    return f"it follows no pattern by the hour ({both})"


def _night_hours(settings: Settings) -> Any:
    hour = np.arange(24)
    start, end = settings.night.start, settings.night.end
    last = end.hour + (end.minute > 0)
    inside = (hour >= start.hour) & (hour < max(last, start.hour + 1))
    return inside


def _holidays(axis: pd.DatetimeIndex, settings: Settings) -> Any:
    out = np.zeros(len(axis), dtype=bool)
    for holiday in settings.holidays:
        last = holiday.last or holiday.first
        out |= np.asarray((axis >= pd.Timestamp(holiday.first)) & (axis <= pd.Timestamp(last)))
    return out
