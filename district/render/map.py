"""The interactive map: one HTML file that opens from disk."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import folium

from district.files import write_text
from district.render import features, palette, symbols
from district.render.ahead_features import device_features, reach_features
from district.render.legend import legend
from district.render.map_frame import begun, clickable, ended, line_style
from district.render.pipe_features import pipe_features
from district.render.placing import side_by_side
from district.render.text import escape
from district.results import DistrictReport
from district.words import CAUTION, period

_AHEAD = {"smallest": palette.SMALLEST, "walk": palette.WALK}
"""Roles of the lines that tell of the next leak; while one is shown, probabilities are not."""


def write_map(report: DistrictReport, path: Path, *, online_base: bool = False) -> Path:
    """Write the map to `path`, whole or not at all; the same bytes from the same report.

    With `online_base` a street map is fetched when the page is opened; else the page asks the
    network for nothing. Raises `OutputError` where the place cannot be written.
    """
    write_text(path, map_page(report, online_base=online_base))
    return path


def map_page(report: DistrictReport, *, online_base: bool = False) -> str:
    """The map as the text of an HTML page."""
    drawn = begun(
        title=f"{escape(report.name)}: leak map",
        head=_head(report),
        foot=escape(CAUTION),
        scale=palette.PROBABILITY,
        online_base=online_base,
    )
    shown = _add_layers(drawn, report)
    given = report.layers
    within = (given.pipes, given.sources, given.zones)
    return ended(drawn, legend=_legend(report, shown), within=within)


def _add_layers(drawn: folium.Map, report: DistrictReport) -> set[str]:
    pipes, casings, places = pipe_features(report)
    meters = list(features.meter_features(report))
    valves = list(features.valve_features(report))
    sensors = list(features.sensor_features(report))
    sources = list(features.source_features(report))
    devices = device_features(report)
    by_symbol = _by_symbol([*valves, *meters])
    buildings, plain = by_symbol.pop("building_meter", []), by_symbol.pop("valve_open", [])
    mains = by_symbol.pop("zone_meter", [])
    driven = [f for key, own in by_symbol.items() if symbols.is_automatic(key) for f in own]
    turned = [f for key, own in by_symbol.items() if not symbols.is_automatic(key) for f in own]
    connections = [*features.connection_features(report), *buildings]
    # What is hidden at first gives way to what is seen.
    side_by_side([*turned, *driven, *mains, *sensors, *sources, *buildings, *plain])
    layers: tuple[tuple[str, list[Any], bool], ...] = (
        ("Zones by excess", features.zone_features(report), True),
        ("Stretches to walk first", casings, True),
        ("Pipes by leak probability", pipes, True),
        ("Likeliest places", places, True),
        ("Buildings and connections", connections, False),
        ("Open valves", plain, False),
        ("Shut or stuck valves", turned, True),
        ("Automatic shut-off valves", driven, True),
        ("Zone meters", mains, True),
        ("Loggers and sensors", sensors, True),
        ("Sources and tanks", sources, True),
        ("Smallest leak shown", reach_features(report, palette.SMALLEST, "smallest"), False),
        ("Walk to the next leak", reach_features(report, palette.WALK, "walk"), False),
        ("Next logger or meter", devices, False),
    )
    for name, found, show in layers:
        if found:
            clickable(name, found, show=show, style=_style).add_to(drawn)
    drawn_symbols = (*meters, *valves, *sensors, *sources, *places, *devices)
    return {f["properties"].get("symbol", "") for f in drawn_symbols}


def _by_symbol(found: Iterable[features.Feature]) -> dict[str, list[features.Feature]]:
    grouped: dict[str, list[features.Feature]] = {}
    for feature in found:
        grouped.setdefault(feature["properties"]["symbol"], []).append(feature)
    return grouped


def _head(report: DistrictReport) -> str:
    basis = report.balance.basis
    return (
        f'<header class="head"><h1>{escape(report.name)}: where water leaks</h1>'
        f"<p>{escape(period(basis.first, basis.last))}. "
        '<span class="screen">Click a zone, pipe, meter or valve for its figures. '
        '<a href="index.html">Report</a></span></p></header>'
    )


def _legend(report: DistrictReport, shown: set[str]) -> str:
    sizes = report.location.detectability["leak_l_s"].dropna()
    return legend(shown=shown, leak_l_s=float(sizes.iloc[0]) if len(sizes) else None)


def _style(feature: features.Feature) -> dict[str, Any]:
    said = feature["properties"]
    if said.get("role") != "zone":
        return line_style(said, palette.PROBABILITY, instead=_AHEAD)
    grade = int(said["grade"])
    fill = palette.EXCESS.colours[grade] if grade >= 0 else "#ffffff"
    return {
        "pane": "zones",
        "color": "#5d676d",
        "weight": 1.4,
        "dashArray": "1 4" if grade < 0 else "7 3",
        "fillColor": fill,
        "fillOpacity": 0.75,
    }
