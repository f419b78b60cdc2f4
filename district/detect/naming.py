"""Each run named: its cause weighed, the works around it, and the reason in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.detect.accused import Accused, blamed
from district.detect.by_hour import ByHour
from district.detect.causes import BUILDING_PRIOR, NOT_RULED_OUT, PRIOR, Weighed, weigh
from district.detect.changed import Changed
from district.detect.evidence import (
    Evidence,
    growth,
    holidays,
    lasting,
    off_meter,
    on_weekdays,
    opposite,
    works_seen,
)
from district.detect.neighbours import Opposite, opposites
from district.detect.places import Place
from district.detect.recorded import by_place
from district.detect.runs import Run
from district.detect.states import OnRecord, on_record, stands
from district.detect.words import reason
from district.schema.event_tables import MOVED_KINDS
from district.settings import Settings

_SATURDAY = 5


@dataclass(frozen=True, eq=False)
class Named:
    """A run and what it is taken for."""

    place: Place
    run: Run
    last: int
    """Its last night, or the latest known."""
    weighed: Weighed
    kind: str
    reason: str
    other_cell_id: str
    state: str
    work: str

    def acts(self, kinds: Sequence[str]) -> bool:
        """Whether to act on it: open, and of one of `kinds` or a leak not ruled out."""
        doubt = self.weighed.leak_share() >= NOT_RULED_OUT
        return self.state == "open" and (self.kind in kinds or doubt)


def named(
    changed: Changed,
    *,
    by_hour: ByHour,
    fed_from_outside: frozenset[str],
    used: Mapping[tuple[str, int], Sequence[Evidence]],
    off: tuple[Accused, ...],
    settings: Settings,
) -> tuple[Named, ...]:
    """Every run of `changed` with its likeliest cause.

    Parameters: `by_hour` what hours tell (`by_hour.hour_evidence`), `fed_from_outside` the zones
    with a meter to outside the district, `used` what meters read by the day tell
    (`users.daily_evidence`), `off` the meters that the balance found to be off.
    """
    works = by_place(changed.works)
    zones = {p.place_id: p for p in changed.places if p.kind == "zone"}
    touching: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for pair, what in changed.touching.items():
        for cell, other in (sorted(pair), sorted(pair, reverse=True)):
            touching.setdefault(cell, []).append((other, what))
    weekend = np.asarray(changed.axis.day_of_week >= _SATURDAY)
    found = []
    for place, run in changed.runs:
        key = place.place_id, run.position
        last = place.last() if run.last is None else run.last
        record = on_record(
            place.place_id, run, changed.axis, works.get(place.place_id, ()), last=last
        )
        seen = [
            lasting(run, nights_count=last - run.position + 1, mended=record.mended),
            *works_seen(record.explained, record.nearby),
            *holidays(
                changed.axis[run.position],
                None if run.last is None else changed.axis[run.last],
                settings=settings,
            ),
        ]
        hours = by_hour.causes.get(key) if place.kind == "zone" else None
        if hours is not None:
            seen.append(hours)
        else:
            seen += on_weekdays(
                place.flow_l_s, run, sigma_l_s=place.sigma_l_s, weekend=weekend, last=last
            )
        if place.kind == "zone":
            beside = opposites(
                place.place_id,
                run,
                places=zones,
                touching=touching,
                partner=changed.partners.get(key, ("", None))[0],
                by_hour=by_hour.moved.get(key, {}),
            )
            meter = _blamed(place, run, changed.axis, off)
            seen += [growth(run), *off_meter(meter), *used.get(key, ())]
            seen += opposite(
                beside,
                touched=place.place_id in touching,
                from_outside=place.place_id in fed_from_outside,
            )
            found.append(_zone(place, run, last, seen, changed.axis, record, beside, meter))
        else:
            weighed = weigh(BUILDING_PRIOR, seen)
            found.append(_named(place, run, last, weighed, changed.axis, record, None, None))
    return tuple(found)


def _zone(
    place: Place,
    run: Run,
    last: int,
    seen: list[Evidence],
    axis: pd.DatetimeIndex,
    record: OnRecord,
    beside: tuple[Opposite, ...],
    meter: Accused | None,
) -> Named:
    weighed = weigh(PRIOR, seen)
    kind = weighed.kind()
    among = [o for o in beside if o.log > 0 and (kind == "boundary" or o.by_meter())]
    other = max(among, key=lambda o: o.log) if kind in MOVED_KINDS and among else None
    return _named(place, run, last, weighed, axis, record, other, meter)


def _named(
    place: Place,
    run: Run,
    last: int,
    weighed: Weighed,
    axis: pd.DatetimeIndex,
    record: OnRecord,
    other: Opposite | None,
    meter: Accused | None,
) -> Named:
    kind = weighed.kind()
    state, work = stands(run, kind, record)
    other_cell = other.cell_id if other is not None else ""
    if kind == "meter_fault" and meter is not None:
        other_cell = meter.other_cell_id
    said = reason(
        kind,
        run,
        axis,
        place_kind=place.kind,
        record=record,
        speaking=weighed.speaking[kind],
        leak_share=weighed.leak_share(),
        other=other,
        meter=meter,
    )
    return Named(place, run, last, weighed, kind, said, other_cell, state, work)


def _blamed(
    place: Place, run: Run, axis: pd.DatetimeIndex, off: tuple[Accused, ...]
) -> Accused | None:
    return blamed(
        place.place_id,
        off,
        low=axis[run.low],
        high=axis[run.high],
        size_l_s=run.size_l_s() + run.fell_l_s,
        error_l_s=run.error_l_s,
    )
