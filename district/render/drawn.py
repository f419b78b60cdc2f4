"""A drawing as SVG text: one style, the same bytes from the same figures."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from district.render import palette

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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


@contextmanager
def styled(**how: Any) -> Iterator[Figure]:
    """A figure of the drawing library, made with `how`, while its settings are ours.

    The library is imported where it draws, here and elsewhere: that takes half a second, and most
    commands draw nothing.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(STYLE):
        yield Figure(**how)


def plain_axes(axes: Any) -> None:
    """No frame above and to the right; thin lines across, beneath what is drawn."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color="#dfe2e0", lw=0.6)
    axes.set_axisbelow(True)


def legend_below(drawing: Figure, *, ncols: int) -> None:
    """What the lines mean, beneath the chart."""
    drawing.legend(
        loc="outside lower center", ncols=ncols, frameon=False, fontsize=9.5, handlelength=1.6,
        columnspacing=1.2,
    )  # fmt: skip


def as_svg(drawing: Figure) -> str:
    """The figure as an SVG element, without date or maker."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    FigureCanvasSVG(drawing)
    written = io.StringIO()
    drawing.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    text = written.getvalue()
    return text[text.index("<svg") :]


def as_image(svg: str) -> str:
    """An SVG as a data URI, for use in an <img>: its ids cannot clash with another's."""
    whole = f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'
    return "data:image/svg+xml;base64," + base64.b64encode(whole.encode()).decode()
