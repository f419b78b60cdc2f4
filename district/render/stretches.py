"""Stretches as the map and the report show them: parts of a pipe joined, figures beside."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import line_merge, union_all

from district.results import DistrictReport
from district.schema.outputs import STRETCHES

_PIPE = ("material", "diameter_mm", "installed_year")


def drawn_stretches(report: DistrictReport) -> gpd.GeoDataFrame:
    """One row a stretch, in the order of the pipes: the columns of STRETCHES, the pipe's own
    material, diameter and year, and the joined line. `searched` tells whether its zone has a
    search set. A pipe without likelihood stands for itself, its figures empty.
    """
    pipes, found = report.layers.pipes, report.location
    stretch = dict(zip(found.likelihood["pipe_id"], found.likelihood["stretch_id"], strict=True))
    named = np.array([stretch.get(p, p) for p in pipes["pipe_id"]], dtype=object)
    rows: list[dict[str, Any]] = []
    for name, parts in pipes.groupby(named, sort=False):
        first = parts.iloc[0]
        rows.append(
            {
                "stretch_id": name,
                "cell_id": first["cell_id"],
                "length_m": float(parts["length_m"].sum()),
                **{column: first.get(column) for column in _PIPE},
                "geometry": _joined(parts.geometry),
            }
        )
    columns = ["stretch_id", "cell_id", "length_m", *_PIPE, "geometry"]
    drawn = gpd.GeoDataFrame(
        pd.DataFrame(rows, columns=columns), geometry="geometry", crs=pipes.crs
    )
    fresh = [c for c in STRETCHES.names() if c not in drawn.columns]
    figures = found.stretches.reindex(columns=["stretch_id", *fresh]).drop_duplicates("stretch_id")
    drawn["searched"] = drawn["cell_id"].isin(found.search_sets["cell_id"])
    return drawn.merge(figures, on="stretch_id", how="left", sort=False)


def _joined(lines: gpd.GeoSeries) -> Any:
    there = lines[lines.notna() & ~lines.is_empty]
    return line_merge(union_all(there.to_numpy())) if len(there) > 1 else lines.iloc[0]
