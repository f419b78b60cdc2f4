"""The layers and tables of a folder by their first rows."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from district.intake.geometry import from_wkb
from district.intake.proposal import LeftOut
from district.intake.table_shape import PLAIN, Shape
from district.intake.tables_in import tables_in
from district.intake.tabular import SUFFIXES as TABLE_SUFFIXES
from district.intake.tabular import read_shape
from district.intake.unreadable import UnreadableError
from district.intake.vectors import FOLDERS, NoLayerError, is_geoparquet, layers_in, read_features
from district.intake.vectors import SUFFIXES as VECTOR_SUFFIXES
from district.layer_settings import places

LAYER_ROWS, TABLE_ROWS = 200, 2000
"""A table holds the readings of many devices in turn, so that more of it is looked at."""
_OUR_PAGES = ("map.html", "results.gpkg")
_FAMILIES = {0: "Point", 1: "LineString", 3: "Polygon", 4: "Point", 5: "LineString", 6: "Polygon"}
_EARTH = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True, eq=False)
class LayerSample:
    """The first rows of a layer."""

    path: Path
    file: str
    """Relative to the folder."""
    layer: str
    several: bool
    """Whether its file holds more layers."""
    geometry: str
    """Point, LineString or Polygon, whichever most rows are; empty if none."""
    frame: pd.DataFrame
    drawn_m: np.ndarray[Any, Any]
    """Drawn length of each row, NaN where there is none."""
    placed: bool = True
    """Whether it says where on the earth it lies."""


@dataclass(frozen=True, eq=False)
class TableSample:
    """The first rows of a table file."""

    path: Path
    file: str
    frame: pd.DataFrame
    shape: Shape = PLAIN
    """Where the table stands in its file."""
    timed: tuple[str, ...] = ()
    """Sheets of the file that hold times, if it has several tables."""

    def sheet(self) -> str:
        """Its sheet, if the file has several tables."""
        return self.shape.sheet if self.timed else ""

    def place(self) -> str:
        """File, and sheet where there are several."""
        return self.shape.place(self.file)


def survey(folder: Path) -> tuple[list[LayerSample], list[TableSample], list[LeftOut]]:
    """Every layer and table file in the folder and its subfolders, and what cannot be read.

    What begins with a dot and pages written by this package are passed over.
    """
    layers: list[LayerSample] = []
    tables: list[TableSample] = []
    left: list[LeftOut] = []
    for path in _files(folder):
        file = path.relative_to(folder).as_posix()
        suffix = path.suffix.lower()
        vector = suffix in VECTOR_SUFFIXES and (suffix != ".parquet" or is_geoparquet(path))
        if vector:
            names = layers_in(path)
            if not names and suffix not in (".json", ".zip", ".sqlite"):
                left.append(LeftOut(file, "it holds no layer that can be read"))
            for name in names:
                _layer(path, file, name, len(names) > 1, layers, left)
        elif suffix in TABLE_SUFFIXES:
            _tables(path, file, tables, left)
    return layers, tables, left


def _tables(path: Path, file: str, tables: list[TableSample], left: list[LeftOut]) -> None:
    try:
        found = tables_in(path, whole=False, timed=False)
        frames = [plain(read_shape(path, s, limit=TABLE_ROWS)) for s in found.shapes]
    except UnreadableError as reason:
        left.append(LeftOut(file, str(reason)))
        return
    several = len(found.shapes) > 1
    timed = tuple(s.sheet for s in found.shapes if s.times) if several else ()
    left += [LeftOut(f"{file}, sheet {sheet}", "it holds no table") for sheet in found.passed]
    for shape, frame in zip(found.shapes, frames, strict=True):
        if frame.empty:
            left.append(LeftOut(shape.place(file), "it has no rows below the heading"))
        else:
            tables.append(TableSample(path, file, frame, shape, timed))


def all_values(sample: LayerSample, column: str) -> pd.Series[Any]:
    """Every value of a layer's column, not of its first rows alone."""
    return read_features(sample.path, sample.layer).frame[column]


def plain(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with one column a heading, and lists in cells as the text they are written as."""
    names = pd.Index(frame.columns)
    once = frame.loc[:, (names != "") & ~names.duplicated()]
    odd = {c: once[c].map(_as_written) for c in once.columns if once[c].dtype == object}
    return once.assign(**odd)


def _as_written(value: Any) -> Any:
    return str(value) if isinstance(value, (list, tuple, dict, set, np.ndarray)) else value


def _files(folder: Path) -> Iterator[Path]:
    for place, inner, names in os.walk(folder):
        inner[:] = sorted(n for n in inner if not n.startswith("."))
        if set(_OUR_PAGES) <= set(names):
            inner[:] = []
            continue
        one = [n for n in inner if Path(n).suffix.lower() in FOLDERS]
        inner[:] = [n for n in inner if n not in one]
        found = sorted([*names, *one])
        yield from (Path(place) / n for n in found if not n.startswith((".", "~")))


def _layer(
    path: Path,
    file: str,
    name: str,
    several: bool,
    layers: list[LayerSample],
    left: list[LeftOut],
) -> None:
    shown = f"{file}, layer {name}" if several else file
    try:
        read = read_features(path, name, limit=LAYER_ROWS)
    except NoLayerError as reason:
        left.append(LeftOut(shown, str(reason)))
        return
    if read.frame.empty:
        left.append(LeftOut(shown, "it has no features"))
        return
    shapes, _ = from_wkb(read.wkb)
    family, drawn_m = _family(shapes), _drawn(shapes, read.crs)
    placed = read.crs is not None and places(read.crs)
    layers.append(LayerSample(path, file, name, several, family, read.frame, drawn_m, placed))


def _family(shapes: np.ndarray[Any, Any]) -> str:
    kinds = [_FAMILIES.get(int(k), "") for k in shapely.get_type_id(shapes)]
    known = [k for k in kinds if k]
    return max(sorted(set(known)), key=known.count) if known else ""


def _drawn(shapes: np.ndarray[Any, Any], crs: pyproj.CRS | None) -> np.ndarray[Any, Any]:
    lines = np.isin(shapely.get_type_id(shapes), (1, 5)) & ~shapely.is_empty(shapes)
    drawn = np.full(len(shapes), np.nan)
    if crs is None or not lines.any():
        return drawn
    try:
        world = gpd.GeoSeries(shapes[lines], crs=crs).to_crs(4326)
    except (ValueError, pyproj.exceptions.ProjError):
        return drawn
    drawn[lines] = [abs(_EARTH.geometry_length(shape)) for shape in world]
    return drawn
