"""The interactive map: one HTML file that opens from disk."""

from __future__ import annotations

import json
from collections.abc import Iterable
from importlib.resources import files as resources
from pathlib import Path
from typing import Any

import folium
from branca.element import MacroElement
from folium.map import CustomPane
from folium.template import Template
from folium.utilities import JsCode

from district.files import write_text
from district.render import features, palette, symbols
from district.render.ahead_features import device_features, reach_features
from district.render.legend import legend
from district.render.offline import add_markup, blank_map, page_of
from district.render.pipe_features import pipe_features
from district.render.placing import side_by_side
from district.render.text import escape
from district.results import DistrictReport
from district.words import CAUTION, period

PANES = {"zones": 350, "casings": 405, "pipes": 410, "ahead": 412, "labels": 590}
"""Drawing order, bottom to top; Leaflet's own symbols stand at 600, tooltips above."""
_AHEAD = {"smallest": palette.SMALLEST, "walk": palette.WALK}
"""Roles of the lines that tell of the next leak; while one is shown, probabilities are not."""
_POINT = JsCode("districtPoint")


def write_map(report: DistrictReport, path: Path, *, online_base: bool = False) -> Path:
    """Write the map to `path`, whole or not at all; the same bytes from the same report.

    With `online_base` a street map is fetched when the page is opened; else the page asks the
    network for nothing. Raises `OutputError` where the place cannot be written.
    """
    write_text(path, map_page(report, online_base=online_base))
    return path


def map_page(report: DistrictReport, *, online_base: bool = False) -> str:
    """The map as the text of an HTML page."""
    drawn = blank_map(
        title=f"{escape(report.name)}: leak map",
        style=_resource("map.css") + _far_widths(),
        script=f"const districtSymbols = {json.dumps(symbols.DRAWN)};\n{_resource('map.js')}",
        online_base=online_base,
    )
    add_markup(drawn.get_root().html, _head(report), "head")
    add_markup(drawn.get_root().html, f'<p class="foot">{escape(CAUTION)}</p>', "foot")
    for name, order in PANES.items():
        CustomPane(name, z_index=order, pointer_events=True).add_to(drawn)
    shown = _add_layers(drawn, report)
    folium.LayerControl(collapsed=JsCode("window.innerWidth <= 700")).add_to(drawn)
    _Call("districtDress", _corners(report)).add_to(drawn)
    add_markup(
        drawn.get_root().html, f'<aside class="side">{_legend(report, shown)}</aside>', "side"
    )
    return page_of(drawn)


class _Call(MacroElement):  # type: ignore[misc]
    """Calls a function of map.js on the map (folium takes elements only as classes)."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "{{ this.verb }}({{ this._parent.get_name() }}, {{ this.value|tojson }});"
        "{% endmacro %}"
    )

    def __init__(self, verb: str, value: Any) -> None:
        super().__init__()
        self._name = "Call"
        self.verb, self.value = verb, value


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
            _layer(name, found, show=show).add_to(drawn)
    drawn_symbols = (*meters, *valves, *sensors, *sources, *places, *devices)
    return {f["properties"].get("symbol", "") for f in drawn_symbols}


def _by_symbol(found: Iterable[features.Feature]) -> dict[str, list[features.Feature]]:
    grouped: dict[str, list[features.Feature]] = {}
    for feature in found:
        grouped.setdefault(feature["properties"]["symbol"], []).append(feature)
    return grouped


def _layer(name: str, found: Iterable[features.Feature], *, show: bool) -> folium.GeoJson:
    return folium.GeoJson(
        features.collection(found),
        name=name,
        show=show,
        style_function=_style,
        smooth_factor=0.6,
        point_to_layer=_POINT,
        tooltip=folium.GeoJsonTooltip(["tip"], labels=False, sticky=True),
        popup=folium.GeoJsonPopup(
            ["popup"],
            labels=False,
            localize=False,
            max_width=JsCode("Math.min(440, window.innerWidth - 40)"),
            # On a phone the button of the layer list stands above.
            auto_pan_padding_top_left=JsCode("[10, window.innerWidth <= 700 ? 64 : 10]"),
            max_height=JsCode("Math.round(window.innerHeight * 0.6)"),
        ),
    )


def _style(feature: features.Feature) -> dict[str, Any]:
    said = feature["properties"]
    grade = int(said.get("grade", -1))
    common = {"lineCap": "round", "lineJoin": "round", "fill": False, "interactive": False}
    if said.get("role") == "touch":
        # Wide and unseen: a finger cannot hit a line three pixels wide.
        return {**common, "pane": "pipes", "weight": 18, "opacity": 0, "interactive": True}
    if said.get("role") == "line":
        if grade < 0:
            quiet = {"color": palette.QUIET, "weight": 1.6, "dashArray": "5 3", "opacity": 1}
            return {**common, **quiet, "pane": "pipes"}
        scale = palette.PROBABILITY
        seen = {"color": scale.colours[grade], "weight": scale.widths[grade], "opacity": 1}
        return {**common, **seen, "pane": "pipes", "className": f"pipe-{grade}"}
    if said.get("role") in ("casing", "gap"):
        outer = said["role"] == "casing"
        cased = {
            "color": palette.CASING if outer else "#ffffff",
            "weight": palette.PROBABILITY.widths[grade] + (6 if outer else 2),
            "opacity": 1,
            "className": f"{said['role']}-{grade}",
        }
        return {**common, **cased, "pane": "casings"}
    if said.get("role") in _AHEAD:
        scale = _AHEAD[said["role"]]
        seen = {"color": palette.INK, "weight": 2, "dashArray": "2 5", "opacity": 1}
        if grade >= 0:
            seen = {"color": scale.colours[grade], "weight": scale.widths[grade], "opacity": 1}
        return {**common, **seen, "pane": "ahead", "className": f"ahead-{said['role']}"}
    if said.get("role") == "zone":
        fill = palette.EXCESS.colours[grade] if grade >= 0 else "#ffffff"
        return {
            "pane": "zones",
            "color": "#5d676d",
            "weight": 1.4,
            "dashArray": "1 4" if grade < 0 else "7 3",
            "fillColor": fill,
            "fillOpacity": 0.75,
        }
    return {}


def _far_widths() -> str:
    """Widths of lines seen from far (the page's script says when): about half."""
    return "".join(
        f".far .pipe-{grade}{{stroke-width:{width * 0.55:.1f}px}}"
        f".far .casing-{grade}{{stroke-width:{width * 0.55 + 3:.1f}px}}"
        f".far .gap-{grade}{{stroke-width:{width * 0.55 + 1:.1f}px}}"
        for grade, width in enumerate(palette.PROBABILITY.widths)
    )


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


def _corners(report: DistrictReport) -> list[list[float]]:
    given = report.layers
    boxes = [
        placed.total_bounds
        for placed in map(features.degrees, (given.pipes, given.sources, given.zones))
        if len(placed)
    ]
    if not boxes:
        return [[-60.0, -180.0], [75.0, 180.0]]
    west, south = (round(float(min(b[i] for b in boxes)), 6) for i in (0, 1))
    east, north = (round(float(max(b[i] for b in boxes)), 6) for i in (2, 3))
    return [[south, west], [north, east]]


def _resource(name: str) -> str:
    return (resources("district.render") / name).read_text(encoding="utf-8")
