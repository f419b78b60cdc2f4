"""The result layers as one GeoPackage, in the metric CRS the figures were computed in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from errno import EIO
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio

from district.files import whole_file
from district.render.ahead import placed_devices
from district.render.stretches import drawn_stretches
from district.results import DistrictReport
from district.schema import isolate_tables, located, outputs
from district.schema.columns import Table
from district.words import missing, true

_SHAPES = {"pipes": "LineString", "stretches": "LineString", "zones": "Polygon"}
_STAMP, _WAITING = "OGR_CURRENT_DATE", "OGR_SQLITE_SYNCHRONOUS"


def write_layers(report: DistrictReport, path: Path) -> Path:
    """Pipes (the parts between devices) and stretches with all likelihood columns, what would be
    seen of the next leak on each, zones with their summary, the points, loggers with how the model
    explains them, valves with what hangs on them, devices and valves to add, and where the drawing
    of the pipes was mended.

    The same bytes from the same report: the file is dated by the last day of its data. Raises
    `OutputError` where it cannot be written.
    """
    layers = [(name, _shape(name, one), one) for name, one in result_layers(report).items()]
    return write_geopackage(layers, path, last=report.balance.basis.last)


def write_geopackage(
    layers: Iterable[tuple[str, str | None, gpd.GeoDataFrame]], path: Path, *, last: date | None
) -> Path:
    """Write layers, each with its name and shape, to a GeoPackage dated by the day `last`.

    Raises `OutputError` where it cannot be written.
    """
    with whole_file(path) as draft, _dated(last):
        for name, shape, layer in layers:
            try:
                pyogrio.write_dataframe(
                    layer, draft, layer=name, driver="GPKG", geometry_type=shape
                )
            except (pyogrio.errors.DataSourceError, pyogrio.errors.FeatureError) as reason:
                # What GDAL says of a full disk is how far its SQL came.
                raise OSError(EIO, "the disk is full or failed half-way") from reason
    return path


def result_layers(report: DistrictReport) -> dict[str, gpd.GeoDataFrame]:
    """Layer name -> its features, columns of the schema beside those of the map."""
    given = report.layers
    found = report.location
    pipes = _joined(given.pipes, found.likelihood, outputs.LIKELIHOOD, "pipe_id")
    return {
        "pipes": _joined(
            _joined(pipes, found.detectability, located.DETECTABILITY, "pipe_id"),
            report.isolation.segment_pipes,
            isolate_tables.SEGMENT_PIPES,
            "pipe_id",
        ),
        "stretches": typed(drawn_stretches(report), outputs.STRETCHES),
        "zones": _joined(given.zones, report.balance.zones, outputs.ZONES, "cell_id"),
        "meters": _plain(given.meters),
        "valves": _joined(
            given.valves, report.isolation.valve_losses, isolate_tables.VALVE_LOSSES, "valve_id"
        ),
        "sensors": _joined(given.sensors, found.logger_checks, located.LOGGER_CHECKS, "sensor_id"),
        "connections": _plain(given.connections),
        "sources": _plain(given.sources),
        "new_valves": typed(
            _placed_like(report.isolation.new_valves, given.pipes), isolate_tables.NEW_VALVES
        ),
        "next_devices": typed(placed_devices(report), located.NEXT_DEVICES),
        "repairs": typed(_placed_like(given.repairs, given.pipes), outputs.REPAIRS),
    }


def _placed_like(layer: gpd.GeoDataFrame, other: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    # A table without rows may come without a reference system.
    return layer if layer.crs is not None else layer.set_crs(other.crs)


def _joined(
    layer: gpd.GeoDataFrame, figures: pd.DataFrame, table: Table, key: str
) -> gpd.GeoDataFrame:
    fresh = [c for c in table.names() if c not in layer.columns]
    rows = figures.reindex(columns=[key, *fresh]).drop_duplicates(key)
    return typed(layer.merge(rows, on=key, how="left", sort=False), table)


def typed(layer: gpd.GeoDataFrame, table: Table) -> gpd.GeoDataFrame:
    """A layer with the columns of a table in the kinds that open formats have."""
    told = layer.copy()
    for column in table.columns:
        values = told[column.name]
        if column.kind == "flag":
            # A sensor that was not compared is neither used nor set aside: left empty.
            known = ~values.map(missing).to_numpy(dtype=bool)
            told[column.name] = values.map(true).astype("boolean").where(known)
        elif column.kind == "whole":
            told[column.name] = pd.to_numeric(values).astype("Int64")
        elif column.kind == "real":
            told[column.name] = pd.to_numeric(values).astype(float)
    return _plain(told)


def _plain(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Text columns as text, so that an empty layer and a column of blanks keep their kind."""
    plain = layer.copy()
    for name in plain.columns.drop(plain.geometry.name):
        if plain[name].dtype == object:
            values = plain[name]
            if len(values) and values.map(lambda v: isinstance(v, bool)).all():
                plain[name] = values.astype(bool)
            else:
                plain[name] = values.map(lambda v: None if missing(v) else str(v)).astype(object)
    return plain


def _shape(name: str, layer: gpd.GeoDataFrame) -> str:
    shape = _SHAPES.get(name, "Point")
    several = layer.geometry.geom_type.str.startswith("Multi").any() if len(layer) else False
    return f"Multi{shape}" if several else shape


@contextmanager
def _dated(last: date | None) -> Iterator[None]:
    """While the block runs, a GeoPackage carries that day and is not waited for by layer."""
    # A GeoPackage carries the time it was written; GDAL lets one option, and no argument, set it.
    # Nor need each layer wait for the disk: the file takes its place only once it is whole.
    stamp = f"{(last or date(2000, 1, 1)).isoformat()}T00:00:00Z"
    before = {name: pyogrio.get_gdal_config_option(name) for name in (_STAMP, _WAITING)}
    pyogrio.set_gdal_config_options({_STAMP: stamp, _WAITING: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
