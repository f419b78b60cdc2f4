"""What the hours of the day tell of each rise of a zone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.detect.changed import Changed
from district.detect.evidence import Evidence
from district.detect.hours import Hours, days_of, metered_neighbours
from district.detect.profile import Shifts, shifts
from district.detect.shapes import SHAPES, Fits, fits
from district.schema.event_tables import CAUSE_KINDS
from district.settings import Settings
from district.words import brief, percent

_AT_ONCE = 400  # changes held at once: some 40 MB
_STUCK = 0.15  # share of wrong meters that stand still: common practice, no source
_TELLS = 0.7  # log factors less apart than this tell nothing
_SATURDAY = 5


def hour_evidence(
    changed: Changed, hours: Hours, *, settings: Settings
) -> dict[tuple[str, int], Evidence]:
    """Evidence by zone and position of each run whose hours are known."""
    near = metered_neighbours(changed)
    asked = [(p, r) for p, r in changed.runs if p.kind == "zone" and p.cell_id in hours.row]
    weekend = np.asarray(changed.axis.day_of_week >= _SATURDAY)
    holiday = _holidays(changed.axis, settings)
    night = _night_hours(settings)
    found: dict[tuple[str, int], Evidence] = {}
    for begin in range(0, len(asked), _AT_ONCE):
        part = asked[begin : begin + _AT_ONCE]
        scale = np.array([max(r.size_l_s() + r.fell_l_s, 1e-3) for _, r in part])
        days = [days_of(place, run) for place, run in part]
        own = shifts(
            hours,
            [p.cell_id for p, _ in part],
            days,
            scale_l_s=scale,
            left_out=holiday,
            weekend=weekend,
        )
        meters = [[own.before_l_s[i]] for i in range(len(part))]
        pairs = [
            (i, cell)
            for i, (place, _) in enumerate(part)
            for cell in near.get(place.cell_id, ())
            if cell in hours.row
        ]
        beside = shifts(
            hours,
            [cell for _, cell in pairs],
            [days[i] for i, _ in pairs],
            scale_l_s=scale[[i for i, _ in pairs]],
            left_out=holiday,
            weekend=weekend,
        )
        for (i, _), flow, known in zip(pairs, beside.before_l_s, beside.known, strict=True):
            if known:
                # The meter between them, or the one that feeds both.
                meters[i] += [flow, flow + own.before_l_s[i]]
        told = fits(own, scale, night=night, meters=meters)
        for i, (place, run) in enumerate(part):
            if own.known[i]:
                found[place.place_id, run.position] = _evidence(own, told, i, night)
    return found


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
