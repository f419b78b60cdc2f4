"""Layers of any vector format and CRS, brought to our names, units and metres."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj

from district.errors import Finding
from district.intake.amount_columns import our_numbers
from district.intake.breaks import gaps_as_warnings, settled_breaks
from district.intake.choices import read_choices
from district.intake.columns import defaults_used, named
from district.intake.crew_entries import read_entries
from district.intake.geometry import (
    Geometries,
    check_shapes,
    from_wkb,
    metric_crs,
    stated_crs,
    to_crs,
)
from district.intake.grouped import grouped
from district.intake.records import read_record
from district.intake.sources import find_source
from district.intake.use_classes import own_classes
from district.intake.vectors import NoLayerError, layer_names, layers_in, read_features
from district.results import Inputs
from district.schema.columns import Table, check, empty
from district.schema.inputs import BREAKS, LAYERS, NEEDED_LAYERS, OTHER_LAYERS, PIPES, RECORDS
from district.settings import FILE, Settings
from district.words import file_name, id_text, missing

_LENGTH_SHARE, _LENGTH_M = 0.10, 5.0


@dataclass(frozen=True, eq=False)
class _Layer:
    frame: pd.DataFrame
    shapes: Geometries
    crs: pyproj.CRS | None
    file: str
    defaults: tuple[dict[str, Any], ...] = ()


def read_layers(folder: Path, settings: Settings) -> Inputs:
    """Every layer and record of a district folder, in the declared form and one metric CRS.

    Never raises for what is wrong in a file: all of it is in `findings`, in one pass. A layer
    that cannot be read comes back without rows; a feature whose geometry is unusable keeps its
    row with an empty geometry. The CRS is that of the pipes if it measures true metres, else
    their UTM zone. An empty `length_m` is measured on the map.
    """
    findings: list[Finding] = []
    read = (*LAYERS, *OTHER_LAYERS)
    layers = {t.name: _read_layer(folder, t, settings, findings) for t in read}
    metric = _metric(layers)
    tables = {t.name: _placed(t, layers[t.name], metric) for t in read}
    used = [d for layer in layers.values() for d in layer.defaults]
    tables["pipes"], measured, odd = _lengths(tables["pipes"], layers["pipes"].file)
    findings += odd
    used += measured
    files = {name: layer.file for name, layer in layers.items()}
    for table in RECORDS:
        record = read_record(folder, table, settings)
        tables[table.name] = record.frame
        files[table.name] = record.file
        breaks = table.name == BREAKS.name
        findings += gaps_as_warnings(record.findings) if breaks else record.findings
        used += record.defaults
    tables["breaks"], told = settled_breaks(
        tables["breaks"], tables["pipes"], file=files["breaks"] or "breaks"
    )
    findings += told
    entries = read_entries(folder, settings)
    findings += entries.findings
    return Inputs(
        **tables,
        entries=entries.frame,
        defaults=pd.DataFrame(used, columns=["table", "column", "rows_count", "value"]),
        findings=grouped(findings),
        files={name: file for name, file in files.items() if file},
    )


def _read_layer(folder: Path, table: Table, settings: Settings, findings: list[Finding]) -> _Layer:
    source = find_source(folder, table.name, settings)
    findings += source.findings
    looked_for = source.findings[0].source if source.path is None and source.findings else ""
    nothing = _Layer(empty(table).drop(columns="geometry"), np.empty(0, object), None, looked_for)
    if source.path is None:
        return nothing
    file = file_name(source.path, folder)
    read = _features(source.path, source.layer, table, file, findings)
    nothing = replace(nothing, file=file)
    if read is None:
        return nothing
    frame, shapes, broken, crs = read
    said = settings.layers.get(table.name)
    frame, strange = named(
        frame, table, said.columns if said else {}, source=file, short=_is_shapefile(source.path)
    )
    findings += strange
    if frame.empty:
        if table.name in NEEDED_LAYERS:
            findings.append(
                Finding(
                    "error",
                    file,
                    got="no features",
                    expected=f"at least one: {table.meaning}",
                    remedy="Export the layer again with its features",
                )
            )
        return nothing
    words = _places(frame, table)
    frame, notes = our_numbers(frame, table, said.units if said else {}, source=file)
    chosen = read_choices(
        frame,
        table,
        said.values if said else {},
        source=file,
        section=f"layers.{table.name}",
        place=words,
    )
    frame = chosen.frame
    if "use_class" in frame.columns:
        frame["use_class"] = own_classes(frame["use_class"], settings.allowances)
    findings += (*notes, *chosen.findings)
    flat = replace(table, columns=tuple(c for c in table.columns if c.kind != "geometry"))
    used = defaults_used(frame, flat)
    frame, wrong = check(flat, frame, source=file, place=words, told=chosen.told)
    findings += wrong
    crs, strange_crs = stated_crs(crs, said.crs if said else "", source=file, table=table.name)
    findings += strange_crs
    assert table.geometry is not None
    shapes, bad = check_shapes(
        shapes, broken, shape=table.geometry, crs=crs, source=file, place=words
    )
    findings += bad
    return _Layer(frame, shapes, crs, file, tuple(used))


def _features(
    path: Path, layer: str, table: Table, file: str, findings: list[Finding]
) -> tuple[pd.DataFrame, Geometries, np.ndarray[Any, np.dtype[np.bool_]], Any] | None:
    names = layer_names(path)
    if layer and names and layer not in names:
        findings.append(_no_layer(file, f"no layer {layer}", names, table))
        return None
    if not layer and len(names) > 1 and table.name not in names:
        # Styles and other tables without geometry often come along.
        names = layers_in(path)
        layer = names[0] if len(names) == 1 else ""
    if not layer and len(names) > 1 and table.name not in names:
        findings.append(
            _no_layer(file, f"{len(names)} layers, none called {table.name}", names, table)
        )
        return None
    chosen = layer or (table.name if table.name in names else None)
    try:
        read = read_features(path, chosen)
    except NoLayerError as reason:
        findings.append(
            Finding(
                "error",
                file,
                got=str(reason),
                expected="a vector layer such as GeoPackage, GeoJSON or shapefile",
                remedy="Export it again from your GIS",
            )
        )
        return None
    shapes, broken = from_wkb(read.wkb)
    return read.frame, shapes, broken, read.crs


def _no_layer(file: str, got: str, names: list[str], table: Table) -> Finding:
    return Finding(
        "error",
        file,
        got=got,
        expected=f"one of {', '.join(names)}",
        remedy=f"Name the right one as layer under [layers.{table.name}] in {FILE}",
    )


def _places(frame: pd.DataFrame, table: Table) -> Callable[[Any], str]:
    """Words for a feature: 'pipe P12', or 'feature 7' where it has no id."""
    key, word = table.key[0], table.name.removesuffix("s")
    ids = frame[key] if key in frame.columns else pd.Series(None, index=frame.index, dtype=object)

    def words(row: Any) -> str:
        value = ids.loc[row]
        return f"feature {row + 1}" if missing(value) else f"{word} {id_text(value)}"

    return words


def _metric(layers: dict[str, _Layer]) -> pyproj.CRS | None:
    """The CRS of all: judged by the pipes, or failing them by the first layer with a place."""
    for layer in (layers["pipes"], *layers.values()):
        placed = [s for s in layer.shapes if s is not None]
        if layer.crs is not None and placed:
            return metric_crs(np.array(placed, dtype=object), layer.crs)
    return None


def _placed(table: Table, layer: _Layer, metric: pyproj.CRS | None) -> gpd.GeoDataFrame:
    if layer.crs is None or metric is None:
        shapes = np.full(len(layer.frame), None, dtype=object)
    else:
        shapes = to_crs(layer.shapes, layer.crs, metric)
    frame = layer.frame.reset_index(drop=True)
    tidy = gpd.GeoDataFrame(frame, geometry=gpd.GeoSeries(shapes, crs=metric), crs=metric)
    if table.name == "zones":
        tidy["name"] = tidy["name"].where(tidy["name"].notna(), tidy["zone_id"])
    return tidy[list(table.names())]


def _lengths(
    pipes: gpd.GeoDataFrame, file: str
) -> tuple[gpd.GeoDataFrame, list[dict[str, Any]], list[Finding]]:
    drawn = pipes.geometry.length
    said = pipes["length_m"]
    off = (said - drawn).abs()
    findings = [
        Finding(
            "warning",
            file,
            f"pipe {pipes.loc[row, 'pipe_id']}",
            "length_m",
            got=f"{said[row]:.0f} m",
            expected=f"about the {drawn[row]:.0f} m drawn on the map",
            remedy="Correct whichever is wrong; the stated length is used",
        )
        for row in pipes.index[(off > _LENGTH_SHARE * drawn) & (off > _LENGTH_M)]
    ]
    unsaid = said.isna()
    used = (
        [
            {
                "table": PIPES.name,
                "column": "length_m",
                "rows_count": int(unsaid.sum()),
                "value": "measured on the map",
            }
        ]
        if unsaid.any()
        else []
    )
    return pipes.assign(length_m=said.where(~unsaid, drawn)), used, findings


def _is_shapefile(path: Path) -> bool:
    return path.suffix.lower() in (".shp", ".zip")
