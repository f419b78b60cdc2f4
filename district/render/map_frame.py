"""What maps have alike: their page, panes, lines to see and to touch, what a click opens."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib.resources import files as resources
from typing import Any

import folium
import geopandas as gpd
from branca.element import MacroElement
from folium.map import CustomPane
from folium.template import Template
from folium.utilities import JsCode

from district.render import features, palette, symbols
from district.render.offline import add_markup, blank_map, page_of

PANES = {"zones": 350, "casings": 405, "pipes": 410, "ahead": 412, "labels": 590}
"""Drawing order, bottom to top; Leaflet's own symbols stand at 600, tooltips above."""
_POINT, _TOLD = JsCode("districtPoint"), JsCode("districtTold")
Said = Mapping[str, Any]
"""Properties of a feature."""
Parts = Sequence[tuple[str, Sequence[str]]]
"""Headings, and the labels beneath each."""


def begun(
    *,
    title: str,
    head: str,
    foot: str,
    scale: palette.Scale,
    parts: Parts = (),
    online_base: bool = False,
) -> folium.Map:
    """A map with its head, foot and panes, without layers; `scale` of its main lines.

    `title`, `head` and `foot` are escaped already. `parts` are the headings and labels of what
    features hold as `told`.
    """
    known = (("districtSymbols", symbols.DRAWN), ("districtParts", parts))
    values = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in known)
    drawn = blank_map(
        title=title,
        style=_resource("map.css") + _far_widths(scale),
        script=values + _resource("map.js"),
        online_base=online_base,
    )
    add_markup(drawn.get_root().html, head, "head")
    add_markup(drawn.get_root().html, f'<p class="foot">{foot}</p>', "foot")
    for name, order in PANES.items():
        CustomPane(name, z_index=order, pointer_events=True).add_to(drawn)
    return drawn


def ended(drawn: folium.Map, *, legend: str, within: Iterable[gpd.GeoDataFrame]) -> str:
    """The page as text, with its legend; it opens so that the layers `within` are seen."""
    folium.LayerControl(collapsed=JsCode("window.innerWidth <= 700")).add_to(drawn)
    _Call("districtDress", _corners(within)).add_to(drawn)
    add_markup(drawn.get_root().html, f'<aside class="side">{legend}</aside>', "side")
    return page_of(drawn)


def clickable(
    name: str,
    found: Iterable[features.Feature],
    *,
    show: bool,
    style: Callable[[features.Feature], dict[str, Any]],
) -> folium.GeoJson:
    """A layer whose features tell of themselves: `tip` under the pointer, `popup` at a click, or
    what map.js makes of `told`."""
    # Each style once, and its number with each feature: of folium's own switch over all ids a
    # browser reads half before it knows how one of thousands is drawn.
    looks: dict[str, int] = {}
    numbered = []
    for one in found:
        look = looks.setdefault(json.dumps(style(one)), len(looks))
        numbered.append({**one, "properties": {**one["properties"], "look": look}})
    return folium.GeoJson(
        features.collection(numbered),
        name=name,
        show=show,
        style=JsCode(f"districtLook([{', '.join(looks)}])"),
        smooth_factor=0.6,
        point_to_layer=_POINT,
        on_each_feature=_TOLD,
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


def line_style(
    said: Said, scale: palette.Scale, *, instead: Mapping[str, palette.Scale]
) -> dict[str, Any]:
    """How a line of a role is drawn: by `scale`, or by that of its role in `instead`, whose lines
    are shown instead of the main ones; {} for what is no such line."""
    grade = int(said.get("grade", -1))
    common = {"lineCap": "round", "lineJoin": "round", "fill": False, "interactive": False}
    if said.get("role") == "touch":
        # Wide and unseen: a finger cannot hit a line three pixels wide.
        return {**common, "pane": "pipes", "weight": 18, "opacity": 0, "interactive": True}
    if said.get("role") == "line":
        if grade < 0:
            quiet = {"color": palette.QUIET, "weight": 1.6, "dashArray": "5 3", "opacity": 1}
            return {**common, **quiet, "pane": "pipes"}
        seen = {"color": scale.colours[grade], "weight": scale.widths[grade], "opacity": 1}
        return {**common, **seen, "pane": "pipes", "className": f"pipe-{grade}"}
    if said.get("role") in ("casing", "gap"):
        outer = said["role"] == "casing"
        cased = {
            "color": palette.CASING if outer else "#ffffff",
            "weight": scale.widths[grade] + (6 if outer else 2),
            "opacity": 1,
            "className": f"{said['role']}-{grade}",
        }
        return {**common, **cased, "pane": "casings"}
    if said.get("role") in instead:
        scale = instead[said["role"]]
        seen = {"color": palette.INK, "weight": 2, "dashArray": "2 5", "opacity": 1}
        if grade >= 0:
            seen = {"color": scale.colours[grade], "weight": scale.widths[grade], "opacity": 1}
        return {**common, **seen, "pane": "ahead", "className": f"ahead-{said['role']}"}
    return {}


def _far_widths(scale: palette.Scale) -> str:
    """Widths of lines seen from far (the page's script says when): about half."""
    return "".join(
        f".far .pipe-{grade}{{stroke-width:{width * 0.55:.1f}px}}"
        f".far .casing-{grade}{{stroke-width:{width * 0.55 + 3:.1f}px}}"
        f".far .gap-{grade}{{stroke-width:{width * 0.55 + 1:.1f}px}}"
        for grade, width in enumerate(scale.widths)
    )


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


def _corners(within: Iterable[gpd.GeoDataFrame]) -> list[list[float]]:
    boxes = [placed.total_bounds for placed in map(features.degrees, within) if len(placed)]
    if not boxes:
        return [[-60.0, -180.0], [75.0, 180.0]]
    west, south = (round(float(min(b[i] for b in boxes)), 6) for i in (0, 1))
    east, north = (round(float(max(b[i] for b in boxes)), 6) for i in (2, 3))
    return [[south, west], [north, east]]


def _resource(name: str) -> str:
    return (resources("district.render") / name).read_text(encoding="utf-8")
