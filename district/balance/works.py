"""Recorded works, by zone and night, so that their water is not taken for a leak."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import text
from district.balance.metering import zone_homes
from district.network import Network
from district.settings import Settings
from district.words import listed


def works_by_night(
    network: Network,
    works: pd.DataFrame,
    *,
    settings: Settings,
    cells: pd.Index[Any],
    nights: pd.DatetimeIndex,
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Kinds of works that overlap the night hours: nights x cells of text, '' if none.

    The night hours are those of the window and of the search for the lowest hour (`settings.night`)
    and what lies between, local time: works in either move that night's figures. Works whose
    place is no zone, pipe, meter or valve of the network are named in the second part.
    """
    told = np.full((len(nights), len(cells)), "", dtype=object)
    begin = min(settings.night.start, settings.night.search_start)
    finish = max(settings.night.end, settings.night.search_end)
    after = pd.Timedelta(hours=begin.hour, minutes=begin.minute)
    until = pd.Timedelta(hours=finish.hour, minutes=finish.minute)
    starts, ends = nights + after, nights + until
    lost: list[str] = []
    # Premises that stand empty draw nothing: what their meter shows is measured as ever.
    works = works[works["kind"] != "empty"]
    places = _places(network, set(works["place_id"].astype(str)))
    for row in sorted(
        zip(*(works[c] for c in ("place_id", "kind", "start", "end")), strict=True), key=str
    ):
        place, kind, start = str(row[0]), str(row[1]), _local(row[2], settings)
        if pd.isna(start):
            continue
        found = [i for c in places.get(place, ()) if (i := cells.get_indexer([c])[0]) >= 0]
        if place not in places:
            lost.append(place)
        end = _local(row[3], settings)
        if pd.isna(end):
            end = start.normalize() + pd.Timedelta(days=1)
        during = np.flatnonzero((starts < end) & (ends > start))
        for at in found:
            for night in during:
                kinds = {*told[night, at].split(", "), kind} - {""}
                told[night, at] = ", ".join(sorted(kinds))
    limits = (
        (f"Works at {listed(set(lost))} are not used: no zone, pipe, meter or valve has this id.",)
        if lost
        else ()
    )
    return pd.DataFrame(told, index=nights, columns=cells), limits


def _local(moment: Any, settings: Settings) -> Any:
    stamp = pd.Timestamp(moment)
    if pd.isna(stamp) or stamp.tzinfo is None:
        return stamp
    return stamp.tz_convert(settings.zone_info()).tz_localize(None)


def _places(network: Network, wanted: set[str]) -> dict[str, set[str]]:
    """The cells of zones, and of those pipes, meters, valves and connections that are `wanted`."""
    places: dict[str, set[str]] = {z: {c} for z, c in zone_homes(network).items()}

    def add(ids: Any, cells: Any) -> None:
        named = pd.Series(np.asarray(ids, dtype=object)).astype(str)
        asked = named.isin(wanted).to_numpy()
        for place, cell in zip(named[asked], text(cells)[asked], strict=True):
            places.setdefault(place, set()).add(cell)

    add(network.pipes.index, network.pipes["cell_id"])
    add(text(network.pipes["layer_pipe_id"]), network.pipes["cell_id"])
    add(network.meters.index, network.meters["cell_id"])
    add(network.valves.index, network.valves["cell_id"])
    for side in ("upstream_cell_id", "downstream_cell_id"):
        add(text(network.boundaries["meter_id"]), network.boundaries[side])
    add(text(network.connections["meter_id"]), network.connections["cell_id"])
    places.pop("", None)
    return places
