"""Where sound can be heard on the pipes: valves, hydrants, meters, sensors, connections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from district.hydraulics.model import Flags, Reals, Wholes
from district.network import Network
from district.network.ways import pipes_in_order, places_at
from district.schema.inputs import ZONE_METER_ROLES
from district.schema.use_words import tells_of
from district.survey.lines import Line

HYDRANT = ("hydrant",)
_HEARING = ("pressure", "acoustic")
"""Sensors that sit on a fitting of the pipe."""


@dataclass(frozen=True, eq=False)
class Fittings:
    """F fittings: id, what each is, whether it is on the main itself, its place on the nearest part
    of a pipe (position in order of pipe_id, share of its length), and where it is drawn."""

    name: Any
    kind: Any
    on_main: Flags
    part: Wholes
    share: Reals
    x_m: Reals
    y_m: Reals


def fittings_of(network: Network, *, near_m: float) -> Fittings:
    """Every fitting drawn within `near_m` of a pipe, the first of equal ids.

    A connection whose class of use tells of a hydrant is one; customers' meters are left to their
    connections. A sensor in a building is on no pipe.
    """
    meters = network.meters
    fed = set(network.connections["meter_id"]) if len(network.connections) else set()
    tables = [_named(network.valves, "valve", True)]
    if len(meters):
        on_main = meters["role"].isin(ZONE_METER_ROLES)
        others = meters[~on_main & ~meters.index.isin(fed)]
        tables += [_named(meters[on_main], "meter", True), _named(others, "meter", False)]
    if len(network.sensors):
        heard = network.sensors[network.sensors["kind"].isin(_HEARING)]
        tables.append(_named(heard, "sensor", True))
    if len(network.connections):
        uses = network.connections.get("use_class", pd.Series("", network.connections.index))
        hydrant = uses.map(lambda use: tells_of(str(use), HYDRANT)).to_numpy(dtype=bool)
        tables += [
            _named(network.connections[hydrant], "hydrant", True),
            _named(network.connections[~hydrant], "connection", False),
        ]
    found = pd.concat(tables, ignore_index=True).drop_duplicates("name")
    points = found["geometry"].to_numpy(dtype=object)
    there = np.array([g is not None and not g.is_empty for g in points], dtype=bool)
    found, points = found[there], points[there]
    if not len(points):
        return _none()
    at = places_at(network, list(points))
    away = shapely.distance(pipes_in_order(network).geometry.to_numpy()[at.pipe], points)
    near = away <= near_m
    return Fittings(
        found["name"].to_numpy(dtype=object)[near],
        found["kind"].to_numpy(dtype=object)[near],
        found["on_main"].to_numpy(dtype=bool)[near],
        at.pipe[near],
        at.share[near],
        shapely.get_x(points)[near],
        shapely.get_y(points)[near],
    )


def along_line(fittings: Fittings, line: Line) -> tuple[Wholes, Reals]:
    """The fittings on a line, in order, and how far along its stretch each is, in metres."""
    place = {int(part): k for k, part in enumerate(line.part)}
    own = np.flatnonzero(np.isin(fittings.part, line.part))
    k = np.array([place[int(p)] for p in fittings.part[own]], dtype=np.int64)
    length = line.ends_m[k + 1] - line.ends_m[k]
    at_m = line.ends_m[k] + fittings.share[own] * length
    order = np.lexsort((fittings.name[own].astype(str), at_m))
    return own[order], at_m[order]


def _named(layer: pd.DataFrame, kind: str, on_main: bool) -> pd.DataFrame:
    if "pipe_id" in layer and on_main and kind != "hydrant":
        layer = layer[layer["pipe_id"].fillna("") != ""]
    return pd.DataFrame(
        {
            "name": layer.index.astype(str),
            "kind": kind,
            "on_main": on_main,
            "geometry": layer.geometry.to_numpy() if len(layer) else [],
        }
    )


def _none() -> Fittings:
    names, whole, real = np.empty(0, object), np.empty(0, np.int64), np.empty(0)
    return Fittings(names, names, np.empty(0, bool), whole, real, real, real)
