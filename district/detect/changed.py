"""What changed, before it is named: places tested, their runs, opposite changes, works on record.

Kept apart from naming so that the readings by hour which naming rests on can be asked for between.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from district.detect.change import Change
from district.detect.neighbours import between, cells_at, going_back, partners
from district.detect.places import Place, common_nights, prepared
from district.detect.recorded import Work, recorded
from district.detect.runs import Run, runs
from district.network import Network
from district.settings import Settings


@dataclass(frozen=True, eq=False)
class Changed:
    """Places with the runs worth a row, all on common nights."""

    axis: pd.DatetimeIndex
    places: tuple[Place, ...]
    thin: tuple[str, ...]
    """A sentence for each place with too few nights."""
    runs: tuple[tuple[Place, Run], ...]
    partners: dict[tuple[str, int], tuple[str, Change]]
    """(zone, position) of a rise -> the other zone and the fall there that cancels it."""
    touching: dict[frozenset[str], tuple[str, ...]]
    """What lies between two zones that touch."""
    works: tuple[Work, ...]


def find_changes(
    nights: pd.DataFrame,
    building_nights: pd.DataFrame,
    *,
    network: Network,
    works: pd.DataFrame,
    settings: Settings,
) -> Changed:
    """The change test over every zone and building, its changes joined into runs.

    Parameters as `find_events`. A rise that only undoes an earlier fall which answered for another
    zone's rise is left out, and so are single nights and rises below `smallest_l_s`.
    """
    done = recorded(works, network=network, cut_cells=cells_at(network), clock=settings.zone_info())
    places, thin = prepared(nights, building_nights, network, settings, works=done)
    touching = between(network)
    cancelled = partners({p.place_id: p.changes for p in places if p.kind == "zone"}, touching)
    back = going_back(cancelled)
    aside: dict[str, set[int]] = {}
    for key, (other, fall) in cancelled.items():
        if key not in back:
            aside.setdefault(other, set()).add(fall.position)
    found = tuple(
        (place, run)
        for place in places
        if place.changes
        for run in _runs(place, aside.get(place.place_id, set()), settings)
        if not (place.kind == "zone" and (place.place_id, run.position) in back)
        and _worth_a_row(run, settings)
    )
    axis = common_nights(nights, building_nights)
    return Changed(axis, tuple(places), tuple(thin), found, cancelled, touching, done)


def _runs(place: Place, aside: set[int], settings: Settings) -> tuple[Run, ...]:
    begun, _ = runs(
        place.flow_l_s,
        sigma_l_s=place.sigma_l_s,
        found=place.changes,
        smallest_l_s=settings.events.smallest_l_s,
        aside=aside if place.kind == "zone" else (),
    )
    return begun


def _worth_a_row(run: Run, settings: Settings) -> bool:
    size = run.size_l_s()
    one_night = run.last is not None and run.last <= run.position
    return size >= settings.events.smallest_l_s and size > 0 and not one_night
