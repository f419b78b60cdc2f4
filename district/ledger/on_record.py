"""Repairs as they are on record: when, where, and what crews told of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from district.network import Network
from district.words import missing, natural

COLUMNS = (
    "first",
    "repaired",
    "mended_id",
    "pipe_id",
    "cell_id",
    "leak_kind",
    "judged_l_s",
    "repair_currency",
    "job_ids",
)


@dataclass(frozen=True, eq=False)
class Where:
    """For each id a repair may be recorded at: the pipe of the layer it is on, and its zone."""

    pipe: Mapping[str, str]
    cell: Mapping[str, str]
    services: frozenset[str]
    """Ids of connections: what is mended there is a service pipe."""


def where_of(network: Network) -> Where:
    """The places of a network, by their ids."""
    pipes = network.pipes
    layer = pipes["layer_pipe_id"].astype(str)
    parts = dict(zip(pipes.index.astype(str), layer, strict=True))
    pipe = {**parts, **dict(zip(layer, layer, strict=True))}
    owned = network.connections
    if "pipe_id" in owned:
        of_part = zip(owned.index.astype(str), owned["pipe_id"], strict=True)
        pipe |= {name: parts[str(part)] for name, part in of_part if str(part) in parts}
    cell = {str(c): str(c) for c in network.cells.index}
    for zones, name in zip(network.cells.get("zone_ids", ()), network.cells.index, strict=False):
        cell |= {str(zone): str(name) for zone in zones}
    for table in (network.meters, network.valves, owned, pipes):
        named = zip(table.index.astype(str), table["cell_id"], strict=True)
        cell |= {name: str(of) for name, of in named if not missing(of)}
    cell |= {name: cell[part] for part, name in parts.items() if part in cell}
    return Where(pipe, cell, frozenset(owned.index.astype(str)))


def repairs_on_record(
    works: pd.DataFrame, entries: pd.DataFrame, *, where: Where, clock: ZoneInfo
) -> pd.DataFrame:
    """Every repair of table WORKS, in order of time: one row a place and local day.

    `entries` table ENTRIES: what crews told of the repair of that place on that day. Columns are
    `COLUMNS`; first and repaired are local dates, cost and size NaN and the kind '' where nobody
    told, pipe and zone '' where the place is none or on none.
    """
    rows = works[(works["kind"] == "repair") & works["start"].notna() & works["place_id"].notna()]
    told = entries[entries["record"] == "repair"]
    told = told.assign(day=local_days(told["time"], clock))
    by_repair = dict(iter(told.groupby(["place_id", "day"], sort=False)))
    found: dict[tuple[str, pd.Timestamp], dict[str, Any]] = {}
    begun = local_days(rows["start"], clock)
    # What ended at midnight ended on the day before.
    ended = local_days(rows["end"].fillna(rows["start"]) - pd.Timedelta(seconds=1), clock)
    ended = ended.where(ended > begun, begun)
    for place, first, last in zip(rows["place_id"].astype(str), begun, ended, strict=True):
        crew = by_repair.get((place, first), told.iloc[:0])
        kinds = [kind for kind in crew["leak_kind"] if kind]
        service = "service" if place in where.services else ""
        found.setdefault(
            (place, last),
            {
                "first": first,
                "repaired": last,
                "mended_id": place,
                "pipe_id": where.pipe.get(place, ""),
                "cell_id": where.cell.get(place, ""),
                "leak_kind": kinds[-1] if kinds else service,
                "judged_l_s": crew["size_l_s"].max(),
                "repair_currency": crew["cost_currency"].sum(min_count=1),
                "job_ids": ", ".join(natural(job for job in crew["job_id"] if job)),
            },
        )
    frame = pd.DataFrame(list(found.values()), columns=list(COLUMNS))
    return frame.sort_values(["repaired", "mended_id"], kind="stable", ignore_index=True)


def local_days(times: pd.Series[Any], clock: ZoneInfo) -> pd.Series[Any]:
    """Local dates of instants, without a zone."""
    local = pd.to_datetime(times, utc=True).dt.tz_convert(clock).dt.tz_localize(None)
    return local.dt.normalize().astype("datetime64[us]")
