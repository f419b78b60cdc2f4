"""The plan of renewal as a GeoPackage: its mains and its works, in the metric CRS of the map."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from district.render.layers import typed, write_geopackage
from district.render.renewal_words import rests_on
from district.renewal_results import Renewal
from district.schema.renewal_tables import RENEWAL_PIPES, RENEWAL_PROJECTS

PROJECTS = "MultiLineString"


def write_renewal_layers(plan: Renewal, path: Path) -> Path:
    """Write `renewal_pipes`, every main in use with every input of its score, and
    `renewal_projects`, the list as multi-lines; the same bytes from the same plan.

    Raises `OutputError` where it cannot be written.
    """
    pipes = typed(_pipes(plan), RENEWAL_PIPES)
    works = typed(_works(plan), RENEWAL_PROJECTS)
    layers = (
        (RENEWAL_PIPES.name, pipes.geometry.geom_type.mode().get(0, "LineString"), pipes),
        (RENEWAL_PROJECTS.name, PROJECTS, works),
    )
    return write_geopackage(layers, path, last=rests_on(plan).last)


def _pipes(plan: Renewal) -> gpd.GeoDataFrame:
    lines = plan.lines.drop_duplicates("pipe_id").set_index("pipe_id").geometry
    placed = lines.reindex(plan.pipes["pipe_id"]).to_numpy()
    if any(shape is not None and shape.geom_type == PROJECTS for shape in placed):
        placed = _several(placed)
    return _layer(plan.pipes, placed, plan)


def _works(plan: Renewal) -> gpd.GeoDataFrame:
    lines = plan.lines.drop_duplicates("pipe_id").set_index("pipe_id").geometry
    own = plan.pipes.groupby("project_id", sort=False)["pipe_id"].agg(list)
    shapes = [
        shapely.MultiLineString(
            [*shapely.get_parts(lines.reindex(own.get(key, [])).dropna().to_numpy())]
        )
        for key in plan.projects["project_id"]
    ]
    return _layer(plan.projects, shapes, plan)


def _layer(table: pd.DataFrame, shapes: Any, plan: Renewal) -> gpd.GeoDataFrame:
    placed = gpd.GeoSeries(list(shapes), index=table.index, crs=plan.lines.crs)
    return gpd.GeoDataFrame(table.copy(), geometry=placed)


def _several(shapes: Any) -> list[Any]:
    """Lines of one part and of several, all as such of several: a layer holds one kind."""
    return [None if s is None else shapely.MultiLineString([*shapely.get_parts(s)]) for s in shapes]
