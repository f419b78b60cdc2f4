"""Point symbols as small SVG drawings, told apart by shape as well as shade."""

from __future__ import annotations

from district.render import palette
from district.words import missing

INK, WHITE = palette.INK, "#ffffff"
_TIES = "M2 5v12l9-6zM20 5v12l-9-6z"
_CROSS = f'<path d="M3 2l16 18M19 2L3 20" stroke="{INK}" stroke-width="2.2"/>'


def _svg(inside: str) -> str:
    return (
        '<svg viewBox="0 0 22 22" width="22" height="22" aria-hidden="true" fill="none" '
        f'stroke-linejoin="round">{inside}</svg>'
    )


def _valve(fill: str, extra: str = "") -> str:
    return _svg(
        f'<path d="{_TIES}" fill="{fill}" stroke="{WHITE}" stroke-width="4"/>'
        f'<path d="{_TIES}" fill="{fill}" stroke="{INK}" stroke-width="1.6"/>{extra}'
    )


def _lettered(
    outline: str, letter: str, *, fill: str = WHITE, ink: str = INK, y: float = 15
) -> str:
    return _svg(
        f'<path d="{outline}" fill="{fill}" stroke="{INK}" stroke-width="1.6"/>'
        f'<text x="11" y="{y:g}" font-size="10" font-weight="700" font-family="sans-serif" '
        f'text-anchor="middle" fill="{ink}">{letter}</text>'
    )


def _automatic(fill: str, extra: str = "") -> str:
    # A drive on its stem above the ties: what turns it is no crew.
    return _svg(
        f'<path d="{_DRIVEN}" fill="{fill}" stroke="{WHITE}" stroke-width="4"/>'
        f'<path d="{_DRIVEN}" fill="{fill}" stroke="{INK}" stroke-width="1.6"/>'
        f'<path d="{_DRIVE}" fill="{palette.WORKS}" stroke="{INK}" stroke-width="1.4"/>{extra}'
    )


_DRIVEN = "M2 9v11l9-5.5zM20 9v11l-9-5.5z"
_DRIVE = "M11 14.5V8M6.5 2.5h9V8h-9z"
_SQUARE = "M3 3h16v16H3z"
_DISC = "M11 2a9 9 0 1 1-.01 0z"
_HEXAGON = "M11 1.5l8.5 4.8v9.4L11 20.5l-8.5-4.8V6.3z"
_DROP = "M11 1C7 7 4 10 4 14a7 7 0 0 0 14 0c0-4-3-7-7-13z"
_PEAK = "M11 1.5L20.5 19.5h-19z"
_TANK = "M3 3v16h16V3"

DRAWN: dict[str, str] = {
    "valve_open": _valve(WHITE),
    "valve_shut": _valve(INK),
    "valve_open_stuck": _valve(WHITE, _CROSS),
    "valve_shut_stuck": _valve(INK, f'<path d="M3 2l16 18M19 2L3 20" stroke="{WHITE}" '
                               'stroke-width="4.5"/>' + _CROSS),
    "valve_automatic_open": _automatic(WHITE),
    "valve_automatic_shut": _automatic(INK),
    "valve_automatic_open_stuck": _automatic(WHITE, _CROSS),
    "valve_automatic_shut_stuck": _automatic(INK, f'<path d="M3 2l16 18M19 2L3 20" '
                                             f'stroke="{WHITE}" stroke-width="4.5"/>' + _CROSS),
    "zone_meter": _lettered(_SQUARE, "M", fill=INK, ink=WHITE),
    "building_meter": _lettered(_SQUARE, "b"),
    "pressure": _lettered(_PEAK, "P", y=17.5),
    "pressure_unused": _svg(
        f'<path d="{_PEAK}" fill="{WHITE}" stroke="{INK}" stroke-width="1.6" '
        'stroke-dasharray="2.5 1.8"/>'
        f'<path d="M6 20L16 6" stroke="{INK}" stroke-width="2"/>'
    ),
    "acoustic": _lettered(_HEXAGON, "A"),
    "wet_floor": _lettered(_DROP, "W", y=17.5),
    "leak_cable": _lettered(_DROP, "C", y=17.5),
    "chamber_float": _lettered(_DROP, "F", y=17.5),
    "tank_level": _svg(
        f'<path d="{_TANK}" fill="{WHITE}" stroke="{WHITE}" stroke-width="4"/>'
        f'<path d="M3 11c2.7-2.4 5.3 2.4 8 0s5.3-2.4 8 0v8H3z" fill="{INK}"/>'
        f'<path d="{_TANK}" stroke="{INK}" stroke-width="1.8"/>'
    ),
    "source": _svg(f'<path d="M2 4h18L11 19z" fill="{INK}" stroke="{WHITE}" stroke-width="1.4"/>'),
    "sensor": _lettered(_DISC, "S"),
    "next_pressure_logger": _lettered(_PEAK, "+", fill=palette.NEXT, y=17.5),
    "next_zone_meter": _lettered(_SQUARE, "+", fill=palette.NEXT),
    "likeliest": _svg(
        f'<circle cx="11" cy="11" r="7" stroke="{WHITE}" stroke-width="5"/>'
        f'<circle cx="11" cy="11" r="7" stroke="{INK}" stroke-width="2"/>'
        f'<circle cx="11" cy="11" r="2.2" fill="{INK}"/>'
    ),
}  # fmt: skip
"""Name of a symbol -> its drawing, 22 by 22 px, centred on the place."""

MEANS: dict[str, str] = {
    "source": "source or tank",
    "tank_level": "tank inside a zone, its level read",
    "zone_meter": "zone meter",
    "building_meter": "building meter",
    "valve_shut": "valve, shut",
    "valve_open": "valve, open",
    "valve_open_stuck": "valve open, cannot be turned",
    "valve_shut_stuck": "valve shut, cannot be turned",
    "valve_automatic_open": "valve that shuts a building by itself, open",
    "valve_automatic_shut": "valve that shuts a building by itself, shut",
    "valve_automatic_open_stuck": "valve that should shut a building by itself, cannot be turned",
    "valve_automatic_shut_stuck": "valve that shuts a building by itself, shut, cannot be turned",
    "pressure": "pressure logger",
    "pressure_unused": "pressure logger that does not count for where a leak is",
    "acoustic": "acoustic logger",
    "wet_floor": "wet-floor sensor",
    "leak_cable": "leak cable along a pipe",
    "chamber_float": "float in a chamber",
    "sensor": "other sensor",
    "likeliest": "likeliest place on a stretch, where readings tell it",
    "next_pressure_logger": "where a pressure logger would help most",
    "next_zone_meter": "where a zone meter would help most",
}


_SENSED = ("pressure", "acoustic", "wet_floor", "leak_cable", "chamber_float", "tank_level")


def valve_symbol(state: object, operable: object, *, automatic: bool = False) -> str:
    """Symbol of a valve as it stands; `automatic` for one that shuts a building by itself. An
    unknown `operable` counts as operable."""
    turned = "shut" if state == "shut" else "open"
    stuck = not missing(operable) and not bool(operable)
    return f"valve_{'automatic_' if automatic else ''}{turned}{'_stuck' if stuck else ''}"


def is_automatic(symbol: str) -> bool:
    """Whether it is the symbol of a valve that shuts a building by itself."""
    return symbol.startswith("valve_automatic")


def sensor_symbol(kind: object, *, used: bool = True) -> str:
    """Symbol of a sensor by what it senses; `used` False for a pressure logger that the model does
    not explain."""
    if kind == "pressure" and not used:
        return "pressure_unused"
    return str(kind) if str(kind) in _SENSED else "sensor"


def meter_symbol(role: object) -> str:
    """Symbol of a meter by its role."""
    return "building_meter" if role in ("building", "customer") else "zone_meter"
