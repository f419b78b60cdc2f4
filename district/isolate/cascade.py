"""Who else a leak at one connection may reach: below it, fed through it, or shut off with it.

Water runs down through a building, and what shuts one flat off shuts others off: common practice,
no source. The storeys, risers and stopcocks are what the map tells of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, InputError
from district.hydraulics.model import Flags
from district.isolate.graph import labels
from district.isolate.piping import OUTSIDE
from district.isolate.segments import Segments
from district.isolate.users import kind_of_users, urgency
from district.network import Network
from district.schema.columns import empty
from district.schema.isolate_tables import CASCADE
from district.words import closest, missing

_STOREYS_APART = 0.25
"""Less is the same storey: half storeys are told as such."""


def cascade(
    network: Network,
    segments: Segments,
    connection_id: str,
    *,
    files: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """Table CASCADE: the connection that leaks, and those that its leak may reach.

    Where a storey or riser is not told, the rest of the building counts as below, though not for
    sure. Downstream is what would have no way left to a source without the part of pipe that the
    connection hangs on; of one that hangs on a ring nobody. Raises `InputError` for an id that is
    no connection.
    """
    taps = network.connections
    names = taps.index.astype(str).to_numpy(dtype=object)
    at = np.flatnonzero(names == connection_id)
    if not len(at):
        raise InputError([_unknown(connection_id, names, files)])
    own = int(at[0])
    below, sure = _below(taps, own)
    downstream = _downstream(segments, own)
    stopcock = _same(taps, own, "stopcock")
    pipe = segments.tap_pipe
    of_tap = np.append(segments.graph.pipe_segment, -1)[pipe]
    segment = (of_tap == of_tap[own]) & (of_tap >= 0)
    touched = below | downstream | stopcock | segment
    touched[own] = True
    rows = np.flatnonzero(touched)
    kinds = kind_of_users(taps.iloc[rows])
    table = pd.DataFrame(
        {
            "connection_id": names[rows],
            "building_id": taps["building_id"].to_numpy(dtype=object)[rows],
            "kind": kinds,
            "use_class": taps["use_class"].to_numpy(dtype=object)[rows],
            "properties": taps["properties"].to_numpy()[rows],
            "floor": _floors(taps)[rows],
            "stopcock": _texts(taps, "stopcock")[rows],
            "leaks": rows == own,
            "below": below[rows],
            "below_for_sure": sure[rows],
            "downstream": downstream[rows],
            "same_stopcock": stopcock[rows],
            "same_segment": segment[rows],
        }
    )
    table["said"] = [_said(row) for row in table.to_dict("records")]
    # The leak itself first; then who is under it, by urgency, the nearest storey first.
    order = np.lexsort(
        [
            table["connection_id"].to_numpy(dtype=str),
            np.nan_to_num(-table["floor"].to_numpy(dtype=float), nan=0.0),
            ~(table["downstream"] | table["same_stopcock"]).to_numpy(),
            urgency(kinds),
            ~table["below"].to_numpy(),
            ~table["leaks"].to_numpy(),
        ]
    )
    found = table.iloc[order].reset_index(drop=True)
    return found[list(CASCADE.names())] if len(found) else empty(CASCADE)


def connections_of(
    network: Network, building_id: str, *, files: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """The connections of a building, the highest storey first: a leak there reaches the most.

    Raises `InputError` for a building that no connection names.
    """
    taps = network.connections
    own = taps[taps["building_id"].astype(str) == building_id]
    if own.empty:
        known = [b for b in taps["building_id"].astype(str).unique() if b]
        raise InputError([_unknown(building_id, known, files, column="building_id")])
    floors = np.nan_to_num(_floors(own), nan=-np.inf)
    order = np.lexsort([own.index.astype(str), -floors])
    return tuple(str(name) for name in own.index[order])


def _below(taps: pd.DataFrame, own: int) -> tuple[Flags, Flags]:
    """Whether each lies below, as far as is told; and whether that is told."""
    building = _same(taps, own, "building_id")
    floors = _floors(taps)
    told = np.isfinite(floors) & np.isfinite(floors[own])
    lower = floors < floors[own] - _STOREYS_APART
    riser = _texts(taps, "riser")
    apart = (riser != "") & (riser[own] != "") & (riser != riser[own])
    below = building & ~apart & (lower | ~told)
    below[own] = False
    return below, below & told & (riser == riser[own])


def _downstream(segments: Segments, own: int) -> Flags:
    """Connections on parts of pipe that hang on the one of connection `own` alone."""
    piping, pipe = segments.piping, int(segments.tap_pipe[own])
    taps = segments.tap_pipe
    if pipe < 0:
        return np.zeros(len(taps), dtype=bool)
    supply = piping.nodes_count
    gates = piping.gate_open
    gate_end = np.where(piping.gate_end == OUTSIDE, supply, piping.gate_end)
    enters = piping.source_node[piping.source_node != OUTSIDE]
    rows = [piping.acting_start, piping.gate_start[gates], enters]
    columns = [piping.acting_end, gate_end[gates], np.full(len(enters), supply)]

    def fed(without: Any) -> Flags:
        kept = np.arange(len(piping.start)) != without
        label = labels(
            supply + 1,
            np.concatenate([piping.start[kept], *rows]),
            np.concatenate([piping.end[kept], *columns]),
        )
        return np.asarray(label == label[supply])

    before, after = fed(-1), fed(pipe)
    lost_node = before & ~after
    lost = lost_node[piping.start] & lost_node[piping.end]
    found = np.append(lost, False)[taps]
    found[own] = False
    return np.asarray(found, dtype=bool)


def _same(taps: pd.DataFrame, own: int, column: str) -> Flags:
    value = _texts(taps, column)
    same = (value == value[own]) & (value != "")
    if column == "stopcock":  # names of taps are a building's own
        building = _texts(taps, "building_id")
        same &= building == building[own]
    same[own] = False
    return np.asarray(same, dtype=bool)


def _texts(taps: pd.DataFrame, column: str) -> Any:
    if column not in taps:
        return np.full(len(taps), "", dtype=object)
    return np.array(["" if missing(v) else str(v) for v in taps[column]], dtype=object)


def _floors(taps: pd.DataFrame) -> Any:
    if "floor" not in taps:
        return np.full(len(taps), np.nan)
    return taps["floor"].to_numpy(dtype=float)


def _said(row: Mapping[str, Any]) -> str:
    """What a row of CASCADE is, in words.

    >>> _said({"leaks": False, "below": True, "below_for_sure": False, "downstream": True,
    ...     "same_stopcock": False, "same_segment": True})
    'perhaps below it; fed through the same pipe; dry when the street is shut off'
    """
    if row["leaks"]:
        return "leaks"
    said = []
    if row["below"]:
        said.append("below it" if row["below_for_sure"] else "perhaps below it")
    if row["downstream"]:
        said.append("fed through the same pipe")
    if row["same_stopcock"]:
        said.append("dry when its stopcock is shut")
    if row["same_segment"]:
        said.append("dry when the street is shut off")
    return "; ".join(said)


def _unknown(
    name: str,
    known: Any,
    files: Mapping[str, str] | None,
    *,
    column: str = "connection_id",
) -> Finding:
    noun = "connection" if column == "connection_id" else "building"
    return Finding(
        "error",
        (files or {}).get("connections", "connections"),
        f"{noun} {name}",
        column,
        f'"{name}"{closest(name, known)}',
        f"the id of a {noun} on the map",
        "Correct the id",
    )
