"""Colours, classes and line widths: our own, ordered by lightness so print and colour-blind eyes
see the same order, and doubled by width, casing or shape wherever they carry meaning.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

from district.words import missing

INK = "#1d2327"
PAPER = "#f5f5f1"
QUIET = "#8b9196"
CASING = "#14181b"


@dataclass(frozen=True)
class Scale:
    """Classes of a figure: `breaks` between them, one colour and width each, words for each."""

    name: str
    breaks: tuple[float, ...]
    colours: tuple[str, ...]
    widths: tuple[float, ...]
    labels: tuple[str, ...]

    def place(self, value: float | None) -> int:
        """Number of the class `value` falls in, -1 where there is no value."""
        if missing(value):
            return -1
        return bisect_right(self.breaks, float(value or 0.0))


PROBABILITY = Scale(
    "probability_per_100_m_share",
    (0.003, 0.01, 0.03, 0.10, 0.30),
    ("#dcbf7c", "#d79c55", "#c6743f", "#a64a3c", "#782a47", "#40123a"),
    (2.5, 3.0, 3.6, 4.4, 5.4, 6.5),
    ("under 0.3 %", "0.3 to 1 %", "1 to 3 %", "3 to 10 %", "10 to 30 %", "30 % and more"),
)
"""Half-decades, the same for every district, so two maps can be compared."""

EXCESS = Scale(
    "excess_l_s",
    (0.1, 0.3, 1.0, 3.0),
    ("#e9eff1", "#cfdfe6", "#adc8d4", "#86adbe", "#5c8ba1"),
    (1.5, 1.5, 2.0, 2.0, 2.5),
    ("under 0.1", "0.1 to 0.3", "0.3 to 1", "1 to 3", "3 and more"),
)

SMALLEST = Scale(
    "smallest_l_s",
    (0.05, 0.1, 0.2, 0.5, 1.0),
    ("#8fbf8a", "#64a56e", "#3f8a5b", "#256d4d", "#14503f", "#0a332e"),
    (2.5, 3.0, 3.6, 4.4, 5.4, 6.5),
    ("under 0.05", "0.05 to 0.1", "0.1 to 0.2", "0.2 to 0.5", "0.5 to 1", "1 and more"),
)
WALK = Scale(
    "walk_m",
    (50.0, 100.0, 200.0, 500.0, 1000.0),
    ("#b3a5d3", "#9181c0", "#7360aa", "#58428f", "#402a6f", "#2a174b"),
    (2.5, 3.0, 3.6, 4.4, 5.4, 6.5),
    ("under 50", "50 to 100", "100 to 200", "200 to 500", "500 to 1000", "1000 and more"),
)
"""Of the leaks to come: the darker and wider, the less is seen of them."""

BREAKS = Scale(
    "breaks_per_100_km_year",
    (1.0, 3.0, 10.0, 30.0, 100.0),
    PROBABILITY.colours,
    PROBABILITY.widths,
    ("under 1", "1 to 3", "3 to 10", "10 to 30", "30 to 100", "100 and more"),
)
"""The same for every district, about the published rates by material: 1.4 to 22 (see
`break_rates`)."""


def risk_classes(top_currency_m: float) -> Scale:
    """Classes 1, 3, 10, 30 ... of what breaks cost a year by metre, as nobody knows beforehand what
    a unit of money is worth: the highest begins at or below `top_currency_m`, which is positive.

    >>> risk_classes(47.0).breaks
    (0.3, 1.0, 3.0, 10.0, 30.0)
    """
    steps = [m * 10.0**e for e in range(-13, 13) for m in (1, 3)]
    last = max(bisect_right(steps, top_currency_m), 5)
    marks = tuple(float(f"{step:.1g}") for step in steps[last - 5 : last])
    said = [f"{mark:,.10g}".replace(",", "\u00a0") for mark in marks]
    between = (f"{low} to {high}" for low, high in pairwise(said))
    labels = (f"under {said[0]}", *between, f"{said[-1]} and more")
    return Scale("risk_currency_m", marks, WALK.colours, WALK.widths, labels)


NEXT = "#e9d8a6"
"""What is not there yet."""

INFLOW = "#7d8a91"
LEAKAGE = "#782a47"
BAND = "#d9b9c2"
EVENT = "#14181b"
WORKS = "#2f6f83"
SEVEN_NIGHTS = "#2f6f83"

USED = "#bdd3dd"
BRIDGED = "#5c8ba1"
ABSENT = "#ffffff"
SET_ASIDE = "#782a47"
"""What became of readings: each its own lightness, and the missing hatched besides."""


def lightness(colour: str) -> float:
    """CIE L* (0 black to 100 white) of a '#rrggbb' colour, D65.

    >>> round(lightness("#ffffff")), round(lightness("#000000"))
    (100, 0)
    """
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    y = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y
