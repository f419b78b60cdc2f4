"""What the other layers and the records say of a meter: its pipe, a check valve, works on it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES

_ON_PIPE_M = 0.5
Spans = dict[str, tuple[tuple[int, int], ...]]
"""Meter id -> spans of time, microseconds UTC, in order."""


def check_valves(inputs: Inputs) -> dict[str, str]:
    """Zone meter -> a check valve on the pipe it stands on."""
    valves = inputs.valves[inputs.valves["kind"] == "check"]
    if valves.empty:
        return {}
    meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    there = _beside(valves, "valve_id", inputs.pipes, ["pipe_id"]).sort_values("valve_id")
    valve_of = there.drop_duplicates("pipe_id").set_index("pipe_id")["valve_id"]
    on = _beside(meters, "meter_id", inputs.pipes, ["pipe_id"])
    on = on[on["pipe_id"].isin(valve_of.index)].drop_duplicates("meter_id")
    return {str(m): str(valve_of[p]) for m, p in zip(on["meter_id"], on["pipe_id"], strict=True)}


def spans_of(works: pd.DataFrame, kind: str) -> Spans:
    """Times of the works of one kind, by the meter they name."""
    there = works[(works["kind"] == kind) & works["start"].notna() & works["end"].notna()]
    found: dict[str, list[tuple[int, int]]] = {}
    for place, start, end in zip(
        there["place_id"], _us(there["start"]), _us(there["end"]), strict=True
    ):
        if pd.notna(place) and end > start:
            found.setdefault(str(place), []).append((start, end))
    return {meter: tuple(sorted(spans)) for meter, spans in found.items()}


def _us(times: pd.Series[Any]) -> Iterable[int]:
    moments = pd.DatetimeIndex(pd.to_datetime(times, utc=True)).as_unit("us")
    return [int(t) for t in moments.asi8]


def _beside(
    points: gpd.GeoDataFrame, key: str, pipes: gpd.GeoDataFrame, columns: list[str]
) -> pd.DataFrame:
    """Each point's id with the columns of every pipe it touches."""
    points = points[points[key].notna() & points.geometry.notna()]
    pipes = pipes[pipes.geometry.notna()]
    if points.empty or pipes.empty:
        return pd.DataFrame(columns=[key, *columns])
    at, on = pipes.sindex.query(points.geometry.array, predicate="dwithin", distance=_ON_PIPE_M)
    found = pipes[columns].iloc[on].reset_index(drop=True)
    return found.assign(**{key: np.asarray(points[key].iloc[at])})
