"""Vector files of any kind as columns and shapes: what the GIS library reads, and GeoParquet."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pyogrio
import pyogrio.raw
import pyproj

from district.intake.geometry import Geometries

SUFFIXES = (
    ".gpkg",
    ".geojson",
    ".json",
    ".shp",
    ".zip",
    ".fgb",
    ".gml",
    ".kml",
    ".tab",
    ".sqlite",
    ".parquet",
    ".geoparquet",
)
"""Files in which layers are looked for."""
_PARQUET = (".parquet", ".geoparquet")


class NoLayerError(ValueError):
    """A file cannot be read as a vector layer; the text says in a few words what it is."""


@dataclass(frozen=True, eq=False)
class Features:
    """A layer as the user has it."""

    frame: pd.DataFrame
    """Their columns, indexed 0..n-1, without the geometry."""
    wkb: Geometries
    """Well-known binary, one entry a row; None where there is no geometry."""
    crs: pyproj.CRS | None


def layers_in(path: Path) -> list[str]:
    """Names of the layers with geometry in a vector file; none if it is no such file."""
    if path.suffix.lower() in _PARQUET:
        return [path.stem] if is_geoparquet(path) else []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            listed = pyogrio.list_layers(path)
    except (pyogrio.errors.DataSourceError, ValueError):
        return []
    return [str(name) for name, kind in listed if kind is not None]


def is_geoparquet(path: Path) -> bool:
    """Whether a Parquet file carries geometry."""
    try:
        return b"geo" in (pq.read_schema(path).metadata or {})
    except (OSError, pa.ArrowException):
        return False


def read_features(path: Path, layer: str | None, *, limit: int | None = None) -> Features:
    """A layer's rows, the first `limit` of them if given.

    `layer` is None for a file's only layer. Raises `NoLayerError` when the file, or the layer in
    it, cannot be read or has no geometry.
    """
    if path.suffix.lower() in _PARQUET:
        return _parquet(path, limit)
    try:
        with warnings.catch_warnings():
            # GDAL remarks on oddities of the file; what matters of them is checked later.
            warnings.simplefilter("ignore", RuntimeWarning)
            meta, _, wkb, fields = pyogrio.raw.read(path, layer=layer, max_features=limit)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, ValueError) as reason:
        raise NoLayerError("a file that cannot be read as a vector layer") from reason
    if wkb is None:
        raise NoLayerError("a table without geometry")
    frame = pd.DataFrame(dict(zip(meta["fields"], fields, strict=True)))
    frame.index = pd.RangeIndex(len(wkb))
    return Features(frame, wkb, pyproj.CRS(meta["crs"]) if meta["crs"] else None)


def _parquet(path: Path, limit: int | None) -> Features:
    if not is_geoparquet(path):
        raise NoLayerError("a table without geometry")
    try:
        read: Any = gpd.read_parquet(path)
    except (OSError, ValueError, pa.ArrowException, ImportError) as reason:
        raise NoLayerError("a file that cannot be read as a vector layer") from reason
    read = read.iloc[:limit].reset_index(drop=True)
    frame = pd.DataFrame(read.drop(columns=read.geometry.name))
    wkb = read.geometry.to_wkb().to_numpy(dtype=object)
    return Features(frame, wkb, pyproj.CRS(read.crs) if read.crs else None)
