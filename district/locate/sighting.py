"""What the public reported: water shows near a leak, not at it, and some reports are of others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer

from district.break_rates import Reals
from district.locate.scene import Scene, tempered, there_share, too_early
from district.locate.spots import Evidence
from district.network import Network
from district.network.ways import device_points
from district.words import listed, missing, moment, plural, spelled

SHOWS_M: dict[str, float] = {
    "running_water": 25.0,
    "wet_ground": 25.0,
    "noise": 15.0,
    "low_pressure": 200.0,
    "other": 60.0,
}
"""Mean distance from the leak to where it shows. Water surfaces away from the leak, most often
downhill, which is not known here. Common practice, no source."""
UNRELATED = 0.2
"""Chance that a report has nothing to do with the leak: rain, a hydrant, a neighbour's tap. Common
practice, no source."""
_NEAR_SPREADS = 4.0
_SAME_SPREADS = 2.0
"""Reports no farther apart are of the same water or noise. Assumption."""
_WATER = ("running_water", "wet_ground")


@dataclass(frozen=True, eq=False)
class _Report:
    """A report, its place on the map, metres from it to each spot, whether the leak was there.

    rivals
        zones whose leak it may be of as well; `own_share` the chance, by flow, that it is of the
        leak sought, before its place is known; `rival_per_m2` how densely reports of the others
        come there, times their chance.
    """

    row: Any
    place: Any
    metres: Reals
    there: float
    rivals: tuple[str, ...]
    own_share: float
    rival_per_m2: float

    @property
    def what(self) -> str:
        return str(self.row.what)


def sighting_evidence(scene: Scene, sightings: pd.DataFrame) -> list[Evidence]:
    """What the reports near the zone say: one piece of evidence a row that cannot count, and one
    for each place from which reports came.

    `sightings`: input table SIGHTINGS. Reports come as densely as exp(-d / spread) about the leak,
    and evenly over the zone where they are of something else. One that is near to another zone with
    a leak to look for is of either leak, by their flows and by how near each may be. Several of the
    same kind beside each other are of the same water or noise, whatever made it: they count as one.
    """
    if sightings.empty:
        return []
    points = device_points(scene.network)
    spots = shapely.points(scene.spots.x_m[scene.own], scene.spots.y_m[scene.own])
    zone = shapely.convex_hull(shapely.multipoints(spots))
    clock = scene.settings.zone_info()
    told, groups = [], list[list[_Report]]()
    for row in sightings.dropna(subset="time").itertuples(index=False):
        place = _place(scene.network, points, row)
        if place is None:
            continue
        metres = shapely.distance(place, spots)
        if metres.min() > _NEAR_SPREADS * SHOWS_M[row.what]:
            continue
        there = there_share(scene, row.time.tz_convert(clock).date())
        report = _Report(row, place, metres, there, *_rivals(scene, row, place))
        if there == 0:
            head = f"{_what(report)} reported at {_where(report)} on {_when(scene, report)}"
            told.append(scene.unused("sighting", f"{head}: {too_early(scene)}"))
            continue
        same = next((g for g in groups if _alike(g[0], report)), None)
        if same is None:
            groups.append([report])
        else:
            same.append(report)
    return told + [_told(scene, group, zone) for group in groups]


def _rivals(scene: Scene, row: Any, place: Any) -> tuple[tuple[str, ...], float, float]:
    """Zones near a report with a leak it may be of; `own_share` and `rival_per_m2` of it."""
    day = row.time.tz_convert(scene.settings.zone_info()).date()
    spread_m, spots = SHOWS_M[row.what], scene.spots
    near, flow, per_m2 = list[str](), list[float](), list[float]()
    for other in scene.others:
        there = spots.cell_id == other.cell_id
        metres = shapely.distance(place, shapely.points(spots.x_m[there], spots.y_m[there]))
        if metres.min(initial=np.inf) > _NEAR_SPREADS * spread_m:
            continue
        near.append(other.cell_id)
        flow.append(other.flow_l_s * there_share(scene, day, other))
        expected = np.maximum(spots.leaks_per_year[there], 1e-30)
        per_m2.append(float(np.average(_per_m2(metres, spread_m), weights=expected)))
    total = max(scene.sought.flow_l_s, 1e-9) + sum(flow)
    named = {name for name, each in zip(near, flow, strict=True) if each > 0}
    return tuple(sorted(named)), 1 - sum(flow) / total, float(np.dot(flow, per_m2)) / total


def _per_m2(metres: Reals, spread_m: float) -> Reals:
    """How densely the reports of a leak come at so many metres from it."""
    return np.asarray(np.exp(-metres / spread_m) / (2 * np.pi * spread_m**2))


def _alike(first: _Report, other: _Report) -> bool:
    water = first.what in _WATER and other.what in _WATER
    near = shapely.distance(first.place, other.place) <= _SAME_SPREADS * SHOWS_M[first.what]
    return bool(near and (water or first.what == other.what))


def _told(scene: Scene, reports: list[_Report], zone: Any) -> Evidence:
    first, last = reports[0], reports[-1]
    likely = np.mean([_log_likelihood(report, zone) for report in reports], axis=0)
    why = ", as water shows away from its leak" if first.what in _WATER else ""
    near = f"this speaks for pipes within about {2 * SHOWS_M[first.what]:.0f} m{why}."
    head = f"{_what(first)} reported at {_where(first)} on {_when(scene, first)}"
    if len(reports) > 1:
        more = plural(len(reports) - 1, "more report")
        head += f", {more} beside it until {_when(scene, last)}, counted as one"
    if first.rivals:
        near += f" It may be of a leak in {listed(first.rivals)} as well."
    return scene.evidence("sighting", f"{head}: {near}", likely)


def _log_likelihood(report: _Report, zone: Any) -> Reals:
    spread_m = SHOWS_M[report.what]
    area_m2 = zone.buffer(2 * spread_m).area
    density = report.own_share * _per_m2(report.metres, spread_m) + report.rival_per_m2
    likely = np.log((1 - UNRELATED) * density + UNRELATED / area_m2)
    return tempered(likely, wrong_share=0.0, there_share=report.there)


def _what(report: _Report) -> str:
    return "Something" if report.what == "other" else spelled(report.what).capitalize()


def _where(report: _Report) -> str:
    row = report.row
    if missing(row.place_id):
        return f"{row.latitude_deg:.5f}, {row.longitude_deg:.5f}"
    return str(row.place_id)


def _when(scene: Scene, report: _Report) -> str:
    return moment(report.row.time, timezone=scene.settings.district.timezone)


def _place(network: Network, points: pd.Series[Any], row: Any) -> Any:
    """The geometry of the place reported: a pipe's line, a point, all points of a building."""
    if missing(row.place_id):
        if missing(row.longitude_deg) or missing(row.latitude_deg):
            return None
        turn = Transformer.from_crs(4326, network.pipes.crs, always_xy=True)
        return shapely.Point(turn.transform(row.longitude_deg, row.latitude_deg))
    name = str(row.place_id)
    pipes = network.pipes
    parts = pipes.geometry[pipes["layer_pipe_id"] == name]
    if len(parts):
        return shapely.union_all(parts.to_numpy())
    if name in points.index:
        return points[name]
    owned = network.connections
    served = owned.geometry[owned["building_id"] == name]
    return shapely.union_all(served.to_numpy()) if len(served) else None
