"""The map's legend: classes with units, symbols, and what the figures are not."""

from __future__ import annotations

from collections.abc import Iterable

from district.render import palette, symbols
from district.render.text import escape
from district.schema.outputs import STRETCHES


def legend(*, shown: Iterable[str]) -> str:
    """The legend as HTML; `shown` are the symbols that stand on this map."""
    present = set(shown)
    lines = [
        _line(_stroke(c, w), label)
        for c, w, label in zip(
            palette.PROBABILITY.colours,
            palette.PROBABILITY.widths,
            palette.PROBABILITY.labels,
            strict=True,
        )
    ]
    fills = [
        _line(_patch(c), label)
        for c, label in zip(palette.EXCESS.colours, palette.EXCESS.labels, strict=True)
    ]
    drawn = [
        _line(symbols.DRAWN[key], label) for key, label in symbols.MEANS.items() if key in present
    ]
    walk = f"walk first: {STRETCHES['in_set'].meaning}"
    return (
        '<div class="layers"></div><details class="legend" open><summary>Legend</summary>'
        "<h4>Leak probability by 100 m of pipe</h4>"
        f"<ul>{''.join(reversed(lines))}"
        f"{_line(_stroke(palette.QUIET, 1.6, dash='5 3'), 'not searched now')}"
        f"{_line(_stroke(palette.PROBABILITY.colours[3], 4.4, cased=True), walk)}"
        "</ul>"
        f"<h4>Excess night flow of the zone, L/s</h4><ul>{''.join(reversed(fills))}</ul>"
        f"<h4>Symbols</h4><ul>{''.join(drawn)}"
        f"{_line(_dot(critical=False), 'connection')}{_line(_dot(critical=True), 'critical user')}"
        "</ul></details>"
    )


def _line(drawing: str, label: str) -> str:
    return f"<li>{drawing}<span>{escape(label)}</span></li>"


def _stroke(colour: str, width: float, *, dash: str = "", cased: bool = False) -> str:
    under = (
        f'<path d="M2 7H32" stroke="{palette.CASING}" stroke-width="{width + 6:g}"/>'
        f'<path d="M2 7H32" stroke="#ffffff" stroke-width="{width + 2:g}"/>'
        if cased
        else ""
    )
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<svg width="34" height="14" aria-hidden="true">{under}'
        f'<path d="M2 7H32" stroke="{colour}" stroke-width="{width:g}"{dashes}/></svg>'
    )


def _patch(colour: str) -> str:
    return (
        '<svg width="34" height="14" aria-hidden="true"><rect x="3" y="1.5" width="28" height="11" '
        f'fill="{colour}" stroke="{palette.QUIET}"/></svg>'
    )


def _dot(*, critical: bool) -> str:
    radius, width, fill = (5, 2.5, "#ffffff") if critical else (3.5, 1, palette.QUIET)
    return (
        f'<svg width="34" height="14" aria-hidden="true"><circle cx="17" cy="7" r="{radius}" '
        f'fill="{fill}" stroke="{palette.INK}" stroke-width="{width}"/></svg>'
    )
