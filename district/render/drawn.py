"""A drawing as SVG text: one style, the same bytes from the same figures."""

from __future__ import annotations

import base64
import io

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from district.render import palette

# Fixed salt and no date: the same bytes from the same figures. Text stays text, so a chart is
# small and prints in the reader's own font.
STYLE = {
    "svg.hashsalt": "district",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 10.5,
    "axes.linewidth": 0.7,
    "axes.edgecolor": palette.QUIET,
    "xtick.color": palette.INK,
    "ytick.color": palette.INK,
    "hatch.linewidth": 0.7,
}
"""Settings of the drawing library, to be held while a figure is made and written."""


def as_svg(drawing: Figure) -> str:
    """The figure as an SVG element, without date or maker."""
    FigureCanvasSVG(drawing)
    written = io.StringIO()
    drawing.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    text = written.getvalue()
    return text[text.index("<svg") :]


def as_image(svg: str) -> str:
    """An SVG as a data URI, for use in an <img>: its ids cannot clash with another's."""
    whole = f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'
    return "data:image/svg+xml;base64," + base64.b64encode(whole.encode()).decode()
