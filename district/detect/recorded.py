"""Recorded works: where and on which nights they explain a rise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.network import Network
from district.words import day

USE_KINDS = ("flushing", "fire_use", "planned_use")
"""Works that draw water while they last."""
CAUSES = (*USE_KINDS, "valve_operation", "repair")
"""Works that may set off a lasting rise without explaining it away."""
_SAID = {
    "flushing": "flushing",
    "fire_use": "fire use",
    "planned_use": "planned use",
    "meter_change": "a meter change",
    "valve_operation": "a valve operation",
    "repair": "a repair",
}


@dataclass(frozen=True)
class Work:
    """One recorded work, in local dates, and the places it touches."""

    kind: str
    first: pd.Timestamp
    last: pd.Timestamp
    place_id: str
    places: frozenset[str]

    def words(self) -> str:
        """The work for a reason: 'flushing at V1 on 2025-07-03'."""
        return f"{_SAID.get(self.kind, self.kind)} at {self.place_id} on {day(self.first)}"


def recorded(
    works: pd.DataFrame,
    *,
    network: Network,
    cut_cells: Mapping[str, frozenset[str]],
    clock: ZoneInfo,
) -> tuple[Work, ...]:
    """The works with the cells and building meters they touch.

    `works` is the input table (times in UTC). A place may be a zone, a pipe, a meter, a valve or
    a connection; one that is unknown touches nothing.
    """
    pipes = network.pipes
    by_layer: dict[str, set[str]] = {}
    # Not grouped: pipes by the ten thousand are as many groups.
    both = (pipes[name].to_numpy() for name in ("layer_pipe_id", "cell_id"))
    for layer_pipe, cell in zip(*both, strict=True):
        by_layer.setdefault(layer_pipe, set()).add(cell)
    by_zone = {
        str(zone): frozenset({str(cell)})
        for cell, zones in network.cells.get("zone_ids", pd.Series(dtype=object)).items()
        for zone in zones
    }
    cells = [
        dict(zip(_texts(table.index), _texts(table["cell_id"].fillna("")), strict=True))
        for table in (pipes, network.meters, network.valves, network.connections)
        if "cell_id" in table
    ]
    done = []
    for row in works.itertuples():
        place = str(row.place_id)
        touched = {place}.union(
            *(m.get(place, frozenset()) for m in (cut_cells, by_layer, by_zone)),
            (of.get(place, "") for of in cells),
        )
        first = _local_day(row.start, clock)
        end = getattr(row, "end", None)
        last = first if end is None or pd.isna(end) else _local_day(end, clock, ended=True)
        last = max(first, last)
        done.append(Work(str(row.kind), first, last, place, frozenset(touched - {""})))
    return tuple(done)


def _texts(ids: pd.Index | pd.Series) -> np.ndarray[Any, Any]:
    """Ids as an array of texts: a column of them makes each anew when it is gone through."""
    return np.asarray(ids.astype(str).to_numpy())


def by_place(works: Sequence[Work]) -> dict[str, tuple[Work, ...]]:
    """The works that touch each place, in the order given."""
    found: dict[str, list[Work]] = {}
    for work in works:
        for place in work.places:
            found.setdefault(place, []).append(work)
    return {place: tuple(own) for place, own in found.items()}


def _local_day(time: object, clock: ZoneInfo, *, ended: bool = False) -> pd.Timestamp:
    """The local date of an instant; what `ended` at midnight ended on the day before."""
    instant = pd.to_datetime(time, utc=True)
    instant -= pd.Timedelta(seconds=1) if ended else pd.Timedelta(0)
    return instant.tz_convert(clock).tz_localize(None).normalize()


def explaining(
    place_id: str,
    works: tuple[Work, ...],
    *,
    start: pd.Timestamp,
    low: pd.Timestamp,
    high: pd.Timestamp,
    last: pd.Timestamp,
) -> Work | None:
    """The work that explains a rise at `place_id` running from `start` to `last`, if any.

    Drawing water explains a rise only while it lasts (a night more at either end); a changed
    meter explains a step at its date that stays.
    """
    night = pd.Timedelta(days=1)
    for work in works:
        if place_id not in work.places:
            continue
        if work.kind in USE_KINDS and start >= work.first - night and last <= work.last + night:
            return work
        if work.kind == "meter_change" and low - night <= work.last and work.first <= high + night:
            return work
    return None


def near(
    place_id: str,
    works: tuple[Work, ...],
    kinds: tuple[str, ...],
    *,
    low: pd.Timestamp,
    high: pd.Timestamp,
) -> Work | None:
    """The first work of one of `kinds` at the place within two nights of `low` .. `high`."""
    margin = pd.Timedelta(days=2)
    for work in works:
        there = place_id in work.places and work.kind in kinds
        if there and low - margin <= work.last and work.first <= high + margin:
            return work
    return None
