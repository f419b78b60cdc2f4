"""The map's legend: classes with units, symbols, and what the figures are not."""

from __future__ import annotations

from collections.abc import Iterable

from district.render import palette, symbols
from district.render.text import escape
from district.words import brief


def legend(*, shown: Iterable[str], leak_l_s: float | None = None) -> str:
    """The legend as HTML; `shown` are the symbols that stand on this map, `leak_l_s` the leak that
    walks to the next one are for. What the present and the next leak are drawn by stands there
    while it is drawn."""
    present = set(shown)
    of_leak = "" if leak_l_s is None else f" of {brief(leak_l_s)} L/s"
    fills = [
        _line(_patch(c), label)
        for c, label in zip(palette.EXCESS.colours, palette.EXCESS.labels, strict=True)
    ]
    drawn = [
        _line(symbols.DRAWN[key], label) for key, label in symbols.MEANS.items() if key in present
    ]
    walk = "walk first: the pieces of pipe in the shortest walk that likely passes the leak"
    return (
        '<div class="layers"></div><details class="legend" open><summary>Legend</summary>'
        '<div class="when-now"><h4>Leak probability by 100 m of pipe</h4>'
        f"<ul>{_classes(palette.PROBABILITY)}"
        f"{_line(_stroke(palette.QUIET, 1.6, dash='5 3'), 'not searched now')}"
        f"{_line(_stroke(palette.PROBABILITY.colours[3], 4.4, cased=True), walk)}"
        "</ul></div>"
        '<div class="when-smallest"><h4>Smallest leak shown, L/s</h4>'
        f"<ul>{_classes(palette.SMALLEST)}"
        f"{_line(_stroke(palette.INK, 2, dash='2 5'), 'not shown')}</ul></div>"
        f'<div class="when-walk"><h4>Walk to the next leak{escape(of_leak)}, m</h4>'
        f"<ul>{_classes(palette.WALK)}</ul></div>"
        f"<h4>Excess night flow of the zone, L/s</h4><ul>{''.join(reversed(fills))}</ul>"
        f"<h4>Symbols</h4><ul>{''.join(drawn)}"
        f"{_line(_dot(critical=False), 'connection')}{_line(_dot(critical=True), 'critical user')}"
        "</ul></details>"
    )


def renewal_legend(risk: palette.Scale | None, currency: str) -> str:
    """The legend of the plan of renewal; `risk` the classes of risk by metre, if any is drawn."""
    of_risk = (
        f'<div class="when-risk"><h4>Cost of breaks a year by metre, {escape(currency)}</h4>'
        f"<ul>{_classes(risk)}</ul></div>"
        if risk
        else ""
    )
    works = _line(_stroke(palette.QUIET, 4.4, cased=True), "works on the list")
    return (
        '<div class="layers"></div><details class="legend" open><summary>Legend</summary>'
        '<div class="when-now"><h4>Breaks expected a year by 100 km</h4>'
        f"<ul>{_classes(palette.BREAKS)}</ul></div>{of_risk}"
        f"<h4>The list</h4><ul>{works}</ul><p>Numbers: their order on the list.</p></details>"
    )


def _classes(scale: palette.Scale) -> str:
    """The classes of lines, the highest first."""
    lines = [
        _line(_stroke(c, w), label)
        for c, w, label in zip(scale.colours, scale.widths, scale.labels, strict=True)
    ]
    return "".join(reversed(lines))


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
