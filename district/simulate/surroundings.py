"""What stands about the pipes: names of streets, the ground they lie in, and what lies above.

All of it follows from the drawn district, with no draw of its own: it shifts nothing else. Names
are invented; that one somewhere is called the same is chance.
"""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, box

_LEGS = {
    "trunk main": "Springhead Road",
    "trunk west": "Intake Lane",
    "trunk north": "Watershed Lane",
    "trunk south": "Sallowgate",
}
_KINDS = {
    "C1": ("Walk", "Court"),
    "C2": ("Yard", "Garth"),
    "C3": ("Row", "Walk"),
    "C4": ("Meadow", "Way"),
    "V1": ("Street", "Wynd"),
    "V2": ("Lane", "Fold"),
    "V3": ("Rise", "Close"),
}
"""What a quarter's rows and columns are called."""
_WORDS = (
    "Alderquern", "Bracksedge", "Cloudberry", "Dunnockfold", "Elvergate", "Fescue", "Gorsewell",
    "Hobblestone", "Inkweed", "Jackdaw", "Kestrelhow", "Lovage", "Mosscrop", "Nettlequern",
    "Ouzel", "Pignut", "Quernside", "Redshank", "Sallowgarth", "Teasel", "Umberstone",
    "Vetchling", "Whinberry", "Yarrowgill",
)  # fmt: skip
_BECK_M, _MOOR_M = 190.5, 202.0
"""Ground lower and higher than these levels is of another kind."""
_WIDTH_M = {"main_road": 9.0, "road": 6.0, "railway": 8.0}
_SPINES = {"V1": "main_road", "V2": "main_road", "C1": "road"}
_RAILWAY = ((700.0, 64.0), (800.0, 66.0), (1090.0, 52.0), (1390.0, 60.0))
"""Metres east and north of the origin: between the two quarters of the village."""
_BUILT_OVER = (("C2", 18.0, 11.0), ("V1", 9.0, 7.0), ("C3", 24.0, 14.0))
"""Zone, length and width of a building that stands on every ninth of its pipes."""
_EACH = 9
_COARSE_M = 0.3


def street_names(streets: Sequence[str]) -> dict[str, str | None]:
    """A name for each street as drawn ('V1 row 3', 'trunk west'); none for links between zones.

    >>> street_names(["V1 row 0", "V1 column 0", "link ZM-C1"])["V1 row 0"]
    'Umberstone Street'
    """
    named: dict[str, str | None] = {}
    count = dict.fromkeys(_KINDS, 0)
    for street in dict.fromkeys(streets):
        zone, _, rest = street.partition(" ")
        if zone not in _KINDS:
            named[street] = _LEGS.get(street)
            continue
        # Each quarter begins elsewhere among the words, so that few stand in two of them.
        start = 5 * list(_KINDS).index(zone)
        word = _WORDS[(start + count[zone]) % len(_WORDS)]
        named[street] = f"{word} {_KINDS[zone][rest.startswith('column')]}"
        count[zone] += 1
    return named


def ground_kinds(level_m: ArrayLike) -> list[str]:
    """What the ground is at these levels: clay by the beck, gravel above, peat on the moor.

    >>> ground_kinds([185.0, 195.0, 210.0])
    ['clay', 'gravel', 'peat']
    """
    level = np.asarray(level_m, dtype=float)
    kinds = np.select([level < _BECK_M, level >= _MOOR_M], ["clay", "peat"], "gravel")
    return [str(kind) for kind in kinds]


def surfaces(pipes: gpd.GeoDataFrame, corner_m: tuple[float, float]) -> gpd.GeoDataFrame:
    """Table SURFACES: the wide streets of the village and the campus, a railway, and buildings that
    were put up over pipes. `pipes` as laid out, `corner_m` the origin in their CRS."""
    rows: list[tuple[str, shapely.Geometry]] = []
    for zone, kind in _SPINES.items():
        spine = pipes[(pipes["zone_id"] == zone) & (pipes["part"] == "spine")]
        rows += [(kind, part) for part in _strip(spine.geometry.union_all(), _WIDTH_M[kind])]
    track = translate(LineString(_RAILWAY), *corner_m)
    rows += [("railway", part) for part in _strip(track, _WIDTH_M["railway"])]
    for zone, long_m, wide_m in _BUILT_OVER:
        own = pipes[(pipes["zone_id"] == zone) & (pipes["part"] == "street")]
        rows += [("building", _house(line, long_m, wide_m)) for line in own.geometry.iloc[::_EACH]]
    frame = pd.DataFrame(rows, columns=["kind", "geometry"])
    frame.insert(0, "surface_id", [f"SF{n:02d}" for n in range(1, len(frame) + 1)])
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=pipes.crs)


def _strip(line: shapely.Geometry, width_m: float) -> list[shapely.Geometry]:
    """A line made as wide as a road, each piece by itself, in a settled order."""
    wide = shapely.buffer(line, width_m / 2, cap_style="flat", quad_segs=2)
    parts = shapely.get_parts(shapely.simplify(wide, _COARSE_M))
    return sorted(parts, key=lambda p: p.centroid.coords[0])


def _house(line: LineString, long_m: float, wide_m: float) -> shapely.Geometry:
    """A building askew over the middle of a pipe."""
    middle = line.interpolate(0.5, normalized=True)
    ahead = line.interpolate(0.55, normalized=True)
    turn = np.degrees(np.arctan2(ahead.y - middle.y, ahead.x - middle.x)) + 12
    plain = box(-long_m / 2, -wide_m / 2, long_m / 2, wide_m / 2)
    return translate(rotate(plain, float(turn), origin=(0, 0)), middle.x, middle.y)
