"""Vector files of any kind as columns and shapes: what the GIS library reads, and GeoParquet."""

from __future__ import annotations

import glob
import json
import warnings
import zipfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
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
    ".mif",
    ".kmz",
    ".dxf",
    ".gdb",
    ".sqlite",
    ".parquet",
    ".geoparquet",
)
"""Files in which layers are looked for."""
FOLDERS = (".gdb",)
"""Suffixes of folders that are one file to a GIS."""
_PARQUET = (".parquet", ".geoparquet")
_UNREADABLE = (
    pyogrio.errors.DataSourceError,
    pyogrio.errors.DataLayerError,
    pyogrio.errors.FeatureError,
    pyogrio.errors.FieldError,
    pyogrio.errors.GeometryError,
    pyogrio.errors.CRSError,
    ValueError,
)


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
    return [name for name, kind in _listed(path) if kind is not None]


def layer_names(path: Path) -> list[str]:
    """Names of all layers in a vector file, with geometry or not; none if it cannot be read."""
    return [name for name, _ in _listed(path)]


def is_vector_file(path: Path) -> bool:
    """Whether there is such a file, or a folder that is one file to a GIS."""
    try:
        return path.is_file() or (path.suffix.lower() in FOLDERS and path.is_dir())
    except OSError:  # A name longer than any file's.
        return False


def _listed(path: Path) -> list[tuple[str, str | None]]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            try:
                listed = pyogrio.list_layers(_opened(path))
            except pyogrio.errors.GeometryError:
                listed = pyogrio.list_layers(_undeclared(path))
    except _UNREADABLE:
        return []
    return [(str(name), kind) for name, kind in listed]


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
    lacking = _lacking(path)
    if lacking:
        raise NoLayerError(f"a shapefile without its {' and '.join(lacking)} file")
    try:
        with warnings.catch_warnings():
            # GDAL remarks on oddities of the file; what matters of them is checked later.
            warnings.simplefilter("ignore", (RuntimeWarning, UserWarning))
            meta, _, wkb, fields = _read(path, layer, limit)
    except _UNREADABLE as reason:
        raise NoLayerError("a file that cannot be read as a vector layer") from reason
    if wkb is None:
        raise NoLayerError("a table without geometry")
    frame = pd.DataFrame(dict(zip(meta["fields"], fields, strict=True)))
    frame.index = pd.RangeIndex(len(wkb))
    return Features(frame, wkb, _crs(meta["crs"]))


def _crs(said: Any) -> pyproj.CRS | None:
    try:
        return pyproj.CRS(said) if said else None
    except pyproj.exceptions.CRSError:
        return None


def _read(path: Path, layer: str | None, limit: int | None) -> Any:
    try:
        return pyogrio.raw.read(_opened(path), layer=layer, max_features=limit)
    except pyogrio.errors.GeometryError:
        return pyogrio.raw.read(_undeclared(path), layer=layer, max_features=limit)


def _undeclared(path: Path) -> str:
    """The file without what its layers say of their shapes: the library reads arcs, and mixtures
    with heights, as long as a layer does not declare them."""
    command = "gdal vector set-geom-type --layer-only --geometry-type GEOMETRY"
    source = str(_opened(path)).replace('"', '\\"')
    said = f'{command} --output-format stream "{source}" streamed_dataset'
    return json.dumps({"type": "gdal_streamed_alg", "command_line": said})


def _opened(path: Path) -> str | Path:
    """What the GIS library must be told to open: in a zip archive, the folder its layers are in."""
    if path.suffix.lower() != ".zip":
        return path
    try:
        with zipfile.ZipFile(path) as archive:
            names = [PurePosixPath(n) for n in archive.namelist() if not n.startswith("__MACOSX")]
    except (OSError, zipfile.BadZipFile):
        return path
    layers = [n for n in names if n.suffix.lower() in SUFFIXES and n.suffix.lower() != ".zip"]
    folders = {n.parent.as_posix() for n in layers if n.suffix.lower() not in FOLDERS}
    folders |= {f.as_posix() for n in names for f in n.parents if f.suffix.lower() in FOLDERS}
    kinds = {n.suffix.lower() for n in layers}
    if len(layers) == 1 and kinds != {".shp"}:
        return f"/vsizip/{path.resolve()}/{layers[0]}"
    inner = folders.pop() if len(folders) == 1 else "."
    return path if inner == "." else f"/vsizip/{path.resolve()}/{inner}"


def _lacking(path: Path) -> list[str]:
    """The files a shapefile cannot do without that are not beside it."""
    if path.suffix.lower() != ".shp":
        return []
    beside = {p.suffix.lower() for p in path.parent.glob(f"{glob.escape(path.stem)}.*")}
    return [suffix for suffix in (".dbf", ".shx") if suffix not in beside]


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
