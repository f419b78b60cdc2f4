"""What cleaning counts of a device in one part of its record, and these put together."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from district.words import SHOWN

WHATS = (
    "misread",
    "fallen",
    "below",
    "unsound",
    "back",
    "beyond",
    "unit",
    "jumped",
    "still",
)
"""In the order in which they are told; `notes.said_of` has the words of each."""


@dataclass(frozen=True)
class Tally:
    """Readings of one device of which the same is to be said."""

    what: str
    """One of `WHATS`."""
    count: int
    said: tuple[str, ...] = ()
    """The first of them, in order of time."""
    low: float = math.nan
    high: float = math.nan
    """The range of what they show, where that is told."""
    total: int = 0
    """Of how many they are, where the share is told."""

    def as_list(self) -> list[Any]:
        """What `from_list` makes a tally of again, in JSON."""
        ends = [None if math.isnan(v) else v for v in (self.low, self.high)]
        return [self.what, self.count, list(self.said), *ends, self.total]


def from_list(said: list[Any]) -> Tally:
    """The tally that `as_list` took apart. Raises `ValueError` or `TypeError` for anything else."""
    what, count, first, low, high, total = said
    ends = [math.nan if v is None else float(v) for v in (low, high)]
    return Tally(str(what), int(count), tuple(map(str, first)), ends[0], ends[1], int(total))


def together(tallies: Iterable[Tally]) -> list[Tally]:
    """One tally of each kind, of tallies in order of time.

    >>> both = together([Tally("back", 1, high=2.0), Tally("back", 2, high=1.0)])
    >>> [(t.count, t.high) for t in both]
    [(3, 2.0)]
    """
    of: dict[str, list[Tally]] = {}
    for one in tallies:
        of.setdefault(one.what, []).append(one)
    return [_one(of[what]) for what in WHATS if what in of]


def _one(same: list[Tally]) -> Tally:
    lows = [t.low for t in same if not math.isnan(t.low)]
    highs = [t.high for t in same if not math.isnan(t.high)]
    return Tally(
        same[0].what,
        sum(t.count for t in same),
        tuple(s for t in same for s in t.said)[:SHOWN],
        min(lows, default=math.nan),
        max(highs, default=math.nan),
        sum(t.total for t in same),
    )
