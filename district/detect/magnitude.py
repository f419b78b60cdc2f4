"""How much a small flow that never stops is, beside published rates."""

from __future__ import annotations

from dataclasses import dataclass

from district.words import brief, rounded

GALLON_L = 3.785411784
"""US liquid gallon, by definition."""
YEAR_D = 365.25
S_PER_D = 86_400.0
_ALIKE = 1.35
"""Within this factor of a published rate, a flow is 'about as much'."""


@dataclass(frozen=True)
class Rate:
    """A published rate of a common leak."""

    words: str
    flow_l_d: float
    source: str


RATES = (
    Rate(
        "a tap that drips ten times a minute",
        500 * GALLON_L / YEAR_D,
        "US EPA: 10 drips a minute, more than 500 gal a year (seen, as others repeat it)",
    ),
    Rate(
        "a tap that drips once a second",
        3000 * GALLON_L / YEAR_D,
        "US EPA: 1 drip a second, more than 3,000 gal a year (seen, as others repeat it)",
    ),
    Rate(
        # The source prints 48 gal a day, which its own half a cup a minute does not give.
        "a cistern that loses half a cup a minute",
        24 * 60 / 32 * GALLON_L,
        "energy.gov: half a US cup a minute (seen); 16 cups to the gallon: 45 gal a day",
    ),
    Rate(
        "a toilet that runs on",
        200 * GALLON_L,
        "US EPA: a running toilet, 200 gal a day or more (from memory)",
    ),
    Rate(
        "a hole of 0.8 mm in an irrigation pipe",
        6300 * GALLON_L / (YEAR_D / 12),
        "US EPA: 1/32 inch, about 6,300 gal a month (seen, as others repeat it)",
    ),
    Rate(
        "a broken service pipe",
        1.6 * 1000 * 24,
        "burst of a service pipe, 1.6 m³/h at 50 m (from memory; 6 gal/h/psi seen)",
    ),
)
"""Published rates, the smallest first."""
FLUSH = "A flush draws about six litres and then nothing"
"""A fact of the trade, no source."""


def a_day(flow_l_s: float, low_l_s: float | None = None, high_l_s: float | None = None) -> str:
    """A flow in litres a day with its limits.

    >>> a_day(0.001, 0.0008, 0.0012)
    '86 (69 to 104) L a day'
    """
    if low_l_s is None or high_l_s is None:
        return f"{brief(flow_l_s * S_PER_D)} L a day"
    middle, low, high = rounded(flow_l_s * S_PER_D, low_l_s * S_PER_D, high_l_s * S_PER_D)
    return f"{middle} ({low} to {high}) L a day" if low else f"{middle} L a day"


def as_much_as(flow_l_s: float) -> str:
    """A flow beside the published rates: it says how much it is, never what it is.

    >>> as_much_as(180 / 86400)
    'about as much as a cistern that loses half a cup a minute'
    >>> as_much_as(80 / 86400)
    'more than a tap that drips once a second, less than a cistern that loses half a cup a minute'
    """
    flow_l_d = flow_l_s * S_PER_D
    alike = [r for r in RATES if 1 / _ALIKE <= flow_l_d / r.flow_l_d <= _ALIKE]
    if alike:
        return f"about as much as {' or '.join(r.words for r in alike)}"
    below = [r for r in RATES if r.flow_l_d < flow_l_d]
    above = [r for r in RATES if r.flow_l_d > flow_l_d]
    parts = [f"more than {r.words}" for r in below[-1:]] + [
        f"less than {r.words}" for r in above[:1]
    ]
    return ", ".join(parts)
