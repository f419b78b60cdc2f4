"""Where the rounds begin and end: at the depot, or in each zone where its inlet is nearest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import Point

from district.errors import Finding, InputError
from district.network import Network
from district.network.ways import pipes_in_order
from district.survey.pieces import Piece

_GIVEN = "EPSG:4326"
_FAR_M = 50_000.0


@dataclass(frozen=True, eq=False)
class Start:
    """Where one round begins and ends, the pieces it passes (their numbers), and in words why.

    `at_end` is True where that is the end of the piece `piece`, False where its start; -1 with the
    depot itself.
    """

    x_m: float
    y_m: float
    piece: int
    at_end: bool
    pieces: tuple[int, ...]
    said: str


def depot_in_metres(network: Network, depot_deg: Sequence[float], *, source: str) -> Point:
    """The depot in the network's metres. Raises `InputError` where it is nowhere near."""
    at = gpd.GeoSeries([Point(*depot_deg)], crs=_GIVEN).to_crs(network.pipes.crs).iloc[0]
    lines = pipes_in_order(network).geometry
    placed = np.isfinite([at.x, at.y]).all()
    if not placed or shapely.distance(shapely.box(*lines.total_bounds), at) > _FAR_M:
        said = "longitude {:g}, latitude {:g}".format(*depot_deg)
        raise InputError(
            [
                Finding(
                    "error",
                    source,
                    "",
                    "depot",
                    f"{said}, more than {_FAR_M / 1000:g} km from every pipe",
                    "the place where the crew sets out, longitude first",
                    "Correct it; the two may have changed places",
                )
            ]
        )
    return at


def starts_of(
    network: Network, pieces: Sequence[Piece], weight: Sequence[float], depot: Point | None
) -> list[Start]:
    """One round from the depot; without one a round in each zone, most weight first.

    `weight` by piece. A zone's round begins at the end of a piece that is nearest to an inlet meter
    of the zone, as the crow flies; at its likeliest piece where the zone has none.
    """
    if not pieces:
        return []
    if depot is not None:
        said = "the depot"
        return [Start(depot.x, depot.y, -1, False, tuple(range(len(pieces))), said)]
    zones: dict[str, list[int]] = {}
    for number, piece in enumerate(pieces):
        zones.setdefault(piece.line.cell_id, []).append(number)
    order = sorted(zones, key=lambda z: (-sum(weight[n] for n in zones[z]), z))
    return [_in_zone(network, pieces, weight, zone, zones[zone]) for zone in order]


def _in_zone(
    network: Network,
    pieces: Sequence[Piece],
    weight: Sequence[float],
    zone: str,
    own: Sequence[int],
) -> Start:
    ends = [(n, at_end) for n in own for at_end in (False, True)]
    places = np.array([_end_xy(pieces[n], at_end) for n, at_end in ends])
    inlets = _inlets(network, zone)
    k = 2 * int(np.argmax([weight[n] for n in own]))
    why = "the likeliest"
    if len(inlets):
        points = inlets.get_coordinates().to_numpy()
        far = np.hypot(*(places[:, None] - points[None]).transpose(2, 0, 1))
        k, meter = divmod(int(far.argmin()), len(points))
        why = f"near inlet meter {inlets.index[meter]}"
    number, at_end = ends[k]
    said = f"on {pieces[number].line.stretch_id}, {why}"
    return Start(places[k, 0], places[k, 1], number, at_end, tuple(own), said)


def _end_xy(piece: Piece, at_end: bool) -> tuple[float, float]:
    point = piece.line.point(piece.to_m if at_end else piece.from_m)
    return point.x, point.y


def _inlets(network: Network, zone: str) -> gpd.GeoSeries:
    bound = network.boundaries
    into = bound[bound["downstream_cell_id"] == zone] if len(bound) else bound
    named = list(into["meter_id"]) if len(into) else []
    return network.meters.geometry[network.meters.index.isin(named)].sort_index()
