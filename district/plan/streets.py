"""The street of every pipe: as its layer tells, else the street along which most of it runs."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.plan.along import near_lines, points_along
from district.settings import Settings
from district.words import missing, natural

_MOST = 0.5


def pipe_streets(
    pipes: gpd.GeoDataFrame, streets: gpd.GeoDataFrame, *, settings: Settings
) -> pd.Series[Any]:
    """Name of the street of each pipe, by pipe_id in the order of the rows; '' where none is known.

    Parameters: `pipes` table PIPES, `streets` table STREETS, in one metric CRS. The column
    `street` counts first. Else it is the street of the layer within `renew.street_near_m` of more
    than half of the pipe's length, the nearest in the mean if there are several; of streets as
    near the first by name. Lines of one name are one street; one without a name goes by its id.
    """
    told = np.array(["" if missing(v) else str(v).strip() for v in pipes["street"]], dtype=object)
    unsaid = np.flatnonzero(told == "")
    drawn = streets[streets.geometry.notna() & ~streets.geometry.is_empty]
    if len(unsaid) and len(drawn):
        told[unsaid] = _nearest(
            pipes.geometry.to_numpy()[unsaid], drawn, near_m=settings.renew.street_near_m
        )
    return pd.Series(
        told, index=pd.Index(pipes["pipe_id"].to_numpy(), name="pipe_id"), name="street"
    )


def street_labels(streets: gpd.GeoDataFrame) -> list[str]:
    """What people call each line of table STREETS: its name, else its id."""
    return [
        str(own if missing(name) else name).strip()
        for name, own in zip(streets["name"], streets["street_id"], strict=True)
    ]


def _nearest(lines: Any, streets: gpd.GeoDataFrame, *, near_m: float) -> Any:
    labels = street_labels(streets)
    names = natural(labels)
    number_of = {name: n for n, name in enumerate(names)}
    number = np.array([number_of[label] for label in labels], dtype=np.int64)
    owner, points = points_along(lines)
    point, way, gap_m = near_lines(points, streets.geometry.to_numpy(), near_m=near_m)
    near = pd.DataFrame({"point": point, "name": number[way], "gap_m": gap_m})
    near = near.groupby(["point", "name"], as_index=False)["gap_m"].min()
    near["pipe"] = owner[near["point"].to_numpy()]
    along = near.groupby(["pipe", "name"], as_index=False)["gap_m"].agg(["size", "mean"])
    points_count = np.bincount(owner, minlength=len(lines))
    along = along[along["size"] > _MOST * points_count[along["pipe"]]]
    # To the millimetre, so that a tie is one on any machine.
    along["mean"] = along["mean"].round(3)
    best = along.sort_values(["pipe", "mean", "name"]).drop_duplicates("pipe")
    found = np.full(len(lines), "", dtype=object)
    found[best["pipe"].to_numpy()] = np.array(names, dtype=object)[best["name"].to_numpy()]
    return found
