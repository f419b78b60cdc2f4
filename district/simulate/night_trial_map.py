"""The smallest network that events are told on: zones in a row, each with its meters and valves."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point, box

from district.network import Network

_SIDE_M = 400.0
_CRS = 32630


def row_of_zones(
    zones: Sequence[str],
    *,
    meters: Sequence[tuple[str, str, str]],
    valves: Sequence[tuple[str, str, str]] = (),
) -> Network:
    """A network of square zones side by side, a pipe from the middle of each to each of its cuts.

    Parameters: `meters` as (meter_id, zone upstream or '', zone downstream or ''), `valves` as
    (valve_id, zone, other zone), all boundary valves recorded shut. Zone meters are
    electromagnetic with an error of 2 %.
    """
    names = list(zones)
    middle = {zone: Point(_SIDE_M * (n + 0.5), _SIDE_M / 2) for n, zone in enumerate(names)}
    cuts = [*meters, *valves]
    nodes = gpd.GeoDataFrame(
        {"cut": ["" for _ in names] + [cut for cut, _, _ in cuts]},
        geometry=[middle[z] for z in names] + [_place(middle, one, two) for _, one, two in cuts],
        crs=_CRS,
    )
    ends = [
        (names.index(zone), len(names) + number, zone)
        for number, (_, one, two) in enumerate(cuts)
        for zone in (one, two)
        if zone
    ]
    pipe_ids = [f"P{n:02d}" for n in range(1, len(ends) + 1)]
    lines = [LineString([nodes.geometry[a], nodes.geometry[b]]) for a, b, _ in ends]
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": pipe_ids,
            "start_position": [a for a, _, _ in ends],
            "end_position": [b for _, b, _ in ends],
            "cell_id": [zone for _, _, zone in ends],
            "length_m": [line.length for line in lines],
        },
        geometry=lines,
        crs=_CRS,
        index=pipe_ids,
    )
    boundaries = _boundaries(meters)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=_cells(names, meters),
        boundaries=boundaries,
        connections=_none(["meter_id", "building_id", "cell_id"]),
        valves=gpd.GeoDataFrame(
            {"kind": "boundary", "state": "shut", "cell_id": ""},
            geometry=[_place(middle, one, two) for _, one, two in valves],
            crs=_CRS,
            index=[valve for valve, _, _ in valves],
        ),
        sensors=_none(["kind", "building_id", "cell_id"]),
        sources=_none(["cell_id"]),
        meters=gpd.GeoDataFrame(
            boundaries.set_index("meter_id")[["role", "kind", "error_percent"]].assign(cell_id=""),
            geometry=[_place(middle, one, two) for _, one, two in meters],
            crs=_CRS,
        ),
        zones=gpd.GeoDataFrame(
            {"zone_id": names},
            geometry=[box(_SIDE_M * n, 0, _SIDE_M * (n + 1), _SIDE_M) for n in range(len(names))],
            crs=_CRS,
        ).set_index("zone_id", drop=False),
    )


def _place(middle: dict[str, Point], one: str, two: str) -> Point:
    """Between two zones, or at the upper edge of the only one."""
    inside = [middle[z] for z in (one, two) if z]
    if len(inside) == 1:
        return Point(inside[0].x, _SIDE_M)
    return Point((inside[0].x + inside[1].x) / 2, _SIDE_M / 2)


def _boundaries(meters: Sequence[tuple[str, str, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(
        list(meters), columns=["meter_id", "upstream_cell_id", "downstream_cell_id"]
    )
    inner = (frame["upstream_cell_id"] != "") & (frame["downstream_cell_id"] != "")
    frame["role"] = ["transfer" if i else "inlet" for i in inner]
    return frame.assign(kind="electromagnetic", error_percent=2.0)


def _cells(names: list[str], meters: Sequence[tuple[str, str, str]]) -> pd.DataFrame:
    above = {down: up for _, up, down in meters if down}
    return pd.DataFrame(
        {
            "name": names,
            "zone_ids": [(name,) for name in names],
            "parent_cell_id": [above.get(name, "") for name in names],
            "has_source": False,
        },
        index=pd.Index(names, name="cell_id"),
    )


def _none(columns: list[str]) -> gpd.GeoDataFrame:
    frame = pd.DataFrame({name: pd.Series(dtype=object) for name in columns})
    return gpd.GeoDataFrame(frame, geometry=[], crs=_CRS)
