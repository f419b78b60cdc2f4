"""Rows of LISTENING_POINTS, and which listening points are on which piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
from shapely.geometry import Point as PointShape

from district.schema.survey_tables import LISTENING_POINTS
from district.settings import Survey
from district.survey.fittings import Fittings
from district.survey.leg_rows import placed
from district.survey.legs import Leg
from district.survey.listening import GROUND, Point, listening_points, material_at
from district.survey.pieces import Piece


@dataclass(frozen=True, eq=False)
class Points:
    """The listening points of every piece that is to be walked, before it was cut: by the stretch
    and the place along it where the piece begins."""

    of: dict[int, tuple[Piece, tuple[Point, ...]]]

    def on(self, piece: Piece) -> list[Point]:
        """Those on a piece cut of one of them; one at a cut is on the piece that begins there."""
        whole, points = self.of[id(piece.line)]
        return [
            p
            for p in points
            if piece.from_m <= p.along_m < piece.to_m or (p.along_m == piece.to_m == whole.to_m)
        ]


def points_of(pieces: Sequence[Piece], fittings: Fittings, asked: Survey) -> Points:
    """The listening points of the whole pieces."""
    return Points(
        {
            id(piece.line): (
                piece,
                tuple(
                    listening_points(
                        piece,
                        fittings,
                        apart_m=asked.listen_apart_m,
                        apart_plastic_m=asked.listen_apart_plastic_m,
                    )
                ),
            )
            for piece in pieces
        }
    )


def points_table(
    legs: Sequence[Leg], points: Points, fittings: Fittings, crs: Any
) -> gpd.GeoDataFrame:
    """Table LISTENING_POINTS in order of the walk."""
    rows: list[dict[str, Any]] = []
    for n, leg in enumerate(legs):
        line = leg.piece.line
        here = sorted(
            (p for k in leg.numbers for p in points.on(leg.round.pieces[k])),
            key=lambda p: p.along_m,
            reverse=leg.backwards,
        )
        for point in here:
            at, on_ground = point.fitting, point.fitting == GROUND
            rows.append(
                {
                    "rank": len(rows) + 1,
                    "shift": leg.shift,
                    "leg": n + 1,
                    "kind": "ground" if on_ground else str(fittings.kind[at]),
                    "fitting_id": "" if on_ground else str(fittings.name[at]),
                    "cell_id": line.cell_id,
                    "stretch_id": line.stretch_id,
                    "along_m": point.along_m,
                    "material": material_at(line, point.along_m),
                    "geometry": line.point(point.along_m)
                    if on_ground
                    else PointShape(float(fittings.x_m[at]), float(fittings.y_m[at])),
                }
            )
    return placed(LISTENING_POINTS, rows, crs)
