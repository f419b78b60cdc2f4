"""What lies above each pipe: roads, railways and buildings of a layer, the street it lies in."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from district.plan.along import Points, Positions, near_lines, points_along
from district.schema.inputs import SURFACE_KINDS
from district.settings import Settings


def dearest_first(settings: Settings) -> tuple[str, ...]:
    """The kinds of surface by what a break of a pipe of 100 mm costs more under them."""
    renew = settings.renew
    repair = renew.repair_currency + renew.repair_bore_currency

    def more(kind: str) -> tuple[float, float, int]:
        own = settings.surfaces[kind]
        dear = own.damage_currency + own.repair_share * repair
        return -dear, -own.renewal_share, SURFACE_KINDS.index(kind)

    return tuple(sorted(SURFACE_KINDS, key=more))


def above_pipes(
    pipes: gpd.GeoDataFrame,
    streets: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame,
    *,
    settings: Settings,
) -> pd.DataFrame:
    """Share of each pipe's length under each kind of surface: pipe_id, kind, above_share.

    Parameters: tables PIPES, STREETS and SURFACES in one metric CRS. A pipe lies under a surface
    where it is within `renew.surface_near_m` of it, and under the kind of the nearest street
    within `renew.street_near_m`; where there are several the dearest (`dearest_first`) counts, so
    that no length counts twice. Rows in the order of the pipes, the dearest kind first; none for
    a kind that does not lie above.
    """
    kinds = dearest_first(settings)
    rank_of = {kind: n for n, kind in enumerate(kinds)}
    owner, points = points_along(pipes.geometry.to_numpy())
    rank = np.full(len(points), len(kinds))
    for layer, hits, near_m in (
        (surfaces, _under, settings.renew.surface_near_m),
        (streets, _in_street, settings.renew.street_near_m),
    ):
        drawn = layer[layer.geometry.notna() & ~layer.geometry.is_empty & layer["kind"].notna()]
        if len(drawn) and len(points):
            point, shape = hits(points, drawn.geometry.to_numpy(), near_m)
            own = drawn["kind"].map(rank_of).to_numpy(dtype=np.intp)[shape]
            np.minimum.at(rank, point, own)
    found = rank < len(kinds)
    count = np.bincount(owner, minlength=len(pipes))
    under = pd.DataFrame({"pipe": owner[found], "rank": rank[found]})
    rows = under.groupby(["pipe", "rank"], as_index=False).size()
    position = rows["pipe"].to_numpy(dtype=np.intp)
    return pd.DataFrame(
        {
            "pipe_id": pipes["pipe_id"].to_numpy()[position],
            "kind": np.array(kinds, dtype=object)[rows["rank"].to_numpy(dtype=np.intp)],
            "above_share": rows["size"].to_numpy(dtype=float) / count[position],
        }
    )


def _under(points: Points, outlines: Any, near_m: float) -> tuple[Positions, Positions]:
    """Pairs of a point and an outline it lies within or near."""
    tree = shapely.STRtree(points)
    outlines = shapely.force_2d(outlines)
    bounds = shapely.bounds(outlines) + np.array([-near_m, -near_m, near_m, near_m])
    # The outline of all roads of a town has very many corners: prepared, each is looked at once.
    shapely.prepare(outlines)
    pairs = []
    for n, (outline, reach) in enumerate(zip(outlines, shapely.box(*bounds.T), strict=True)):
        candidates = tree.query(reach)
        inside = candidates[shapely.dwithin(outline, points[candidates], near_m)]
        pairs.append((inside, np.full(len(inside), n)))
    if not pairs:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    point, outline_number = (np.concatenate(side) for side in zip(*pairs, strict=True))
    return point.astype(np.intp), outline_number.astype(np.intp)


def _in_street(points: Points, ways: Any, near_m: float) -> tuple[Positions, Positions]:
    """Pairs of a point and the nearest street, each of several as near."""
    point, way, gap_m = near_lines(points, ways, near_m=near_m)
    least = np.full(len(points), np.inf)
    np.minimum.at(least, point, gap_m)
    nearest = gap_m == least[point]
    return point[nearest], way[nearest]
