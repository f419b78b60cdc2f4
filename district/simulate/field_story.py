"""What crews, acoustic loggers and the public did about the leaks, as data. Times are local."""

from __future__ import annotations

from dataclasses import dataclass

TEST_ID, TEST_ZONE, TEST_START = "ST-1", "V3", "2025-10-17T01:00"
"""The step test: a valve is shut each quarter of an hour, all are opened after the last."""
SECTIONS = ((0.45, 0.65), (0.2, 0.55), (0.0, 0.35))
"""Its sections, the far one first: each is cut off somewhere between these shares of the way from
the inlet to the farthest end."""


@dataclass(frozen=True)
class Search:
    """A crew searched every pipe of a zone within `radius_m` of a leak or a device."""

    date: str
    zone_id: str
    near_id: str
    radius_m: float
    method: str
    note: str
    found_id: str = ""
    """The leak that was found."""


SEARCHES: tuple[Search, ...] = (
    Search("2025-05-13", "V2", "L3", 70, "listening", "marked for repair", found_id="L3"),
    Search("2025-11-18", "V3", "L7", 80, "listening", "nothing heard; plastic, windy"),
    Search("2025-12-04", "C1", "PL-03", 120, "listening", "nothing heard"),
    Search("2025-12-05", "C1", "PL-05", 90, "ground_microphone", "nothing heard"),
)


@dataclass(frozen=True)
class Heard:
    """Two sensors put on the valves on both sides of a leak."""

    date: str
    leak_id: str
    spread_ms: float
    note: str


CORRELATED: tuple[Heard, ...] = (Heard("2025-12-11", "L1", 1.0, "clear peak, three runs"),)


@dataclass(frozen=True)
class Sight:
    """A report from the public, at the connection nearest to a leak or device but `off_m` away."""

    time: str
    near_id: str
    off_m: float
    what: str
    note: str


SIGHTS: tuple[Sight, ...] = (
    Sight("2025-02-03T07:50", "PL-11", 0, "running_water", "a gutter, as it turned out"),
    Sight("2025-11-22T08:40", "L6", 12, "wet_ground", "verge soft though it has not rained"),
)
