"""A folium map that opens from disk with the network off, the same bytes from the same input.

Leaflet's script, style and images are written into the page; the links folium adds by itself are
left out. folium names its elements at random and reads its own output again as a template, so the
ids are numbered here, and nothing but `text.escape`d values may enter.
"""

from __future__ import annotations

import base64
import re
from functools import cache
from pathlib import Path
from typing import Any

import folium
from branca.element import Element, Figure
from folium.template import Template
from xstatic.pkg import leaflet

from district.render import palette

_PAGE = Template(
    '<!DOCTYPE html>\n<html lang="en">\n<head>\n<title>{{ this.title }}</title>\n'
    "{{ this.header.render(**kwargs) }}\n</head>\n<body>\n{{ this.html.render(**kwargs) }}\n"
    "<script>\n{{ this.script.render(**kwargs) }}\n</script>\n</body>\n</html>\n"
)
_NO_NETWORK = (
    "default-src 'none'; img-src data:{images}; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'"
)
_LINK = re.compile(r"""url\(\s*["']?(images/[\w.-]+)["']?\s*\)""")


def blank_map(*, title: str, style: str, script: str, online_base: bool = False) -> folium.Map:
    """A map without base map or outside links, Leaflet inside.

    `title` is escaped already; `style` and `script` are ours, put after Leaflet's. With
    `online_base` a street map is fetched when the page is opened: the reader's choice, off unless
    asked for.
    """
    drawn = folium.Map(
        location=(0.0, 0.0),
        tiles="OpenStreetMap" if online_base else None,
        zoom_control="bottomright",
        zoom_snap=0.25,
        max_zoom=20,
        attribution_control=online_base,
        font_size="0.9rem",
    )
    # New lists on this map only: the class's own lists stay as they are for others.
    drawn.default_js, drawn.default_css = [], []
    figure = drawn.get_root()
    assert isinstance(figure, Figure)
    figure._template = _PAGE
    figure.title = title
    policy = _NO_NETWORK.format(images=" https:" if online_base else "")
    add_markup(
        figure.header, f'<meta http-equiv="Content-Security-Policy" content="{policy}">', "policy"
    )
    add_markup(figure.header, f"<style>{_leaflet_style()}</style>", "leaflet_style")
    add_markup(figure.header, f"<script>{_leaflet_script()}</script>", "leaflet_script")
    paper = f".leaflet-container{{background:{palette.PAPER};color:{palette.INK}}}"
    add_markup(figure.header, f"<style>{paper}{style}</style>", "own_style")
    add_markup(figure.header, f"<script>{script}</script>", "own_script")
    return drawn


def add_markup(parent: Any, markup: str, name: str) -> None:
    """Put finished markup under `parent` as it stands (not read as a template)."""
    element = Element("{{ this.markup }}")
    element.markup = markup
    parent.add_child(element, name=name)


def page_of(drawn: folium.Map) -> str:
    """The whole page as text, element ids numbered in the order they stand."""
    for number, element in enumerate(_within(drawn)):
        element._id = str(number)
    text = str(drawn.get_root().render())
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"


def _within(element: Any) -> list[Any]:
    found = [element]
    for child in element._children.values():
        found += _within(child)
    return found


@cache
def _leaflet_script() -> str:
    script = (Path(leaflet.BASE_DIR) / "leaflet.js").read_text(encoding="utf-8")
    # The map of the minified source is a second file: browsers' tools would ask for it.
    return re.sub(r"//# sourceMappingURL=\S+", "", script).replace("</script", "<\\/script")


@cache
def _leaflet_style() -> str:
    folder = Path(leaflet.BASE_DIR)
    style = (folder / "leaflet.css").read_text(encoding="utf-8")

    def inlined(match: re.Match[str]) -> str:
        image = base64.b64encode((folder / match[1]).read_bytes()).decode()
        return f'url("data:image/png;base64,{image}")'

    return _LINK.sub(inlined, style)
