"""The invented district: Quernhollow campus and the village of Sallowbeck, as data.

Distances are metres east and north of `ORIGIN`; times are local. Nothing here is a real place.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

NAME = "Quernhollow and Sallowbeck"
TIMEZONE = ZoneInfo("Europe/London")
STEP_S = 900
METRIC_CRS = "EPSG:32630"
ORIGIN_LONGITUDE, ORIGIN_LATITUDE = -1.95, 54.35
RESERVOIR_HEAD_M = 252.0
REDUCED_PRESSURE_M = 33.0
"""Outlet pressure held by the reducing valve of Orchard Rise."""


@dataclass(frozen=True)
class Scenario:
    """How much of the district's year is made.

    `first` and `days` bound the record (local dates); `customers_share` thins customers, so
    that a test has a small district. What is seeded outside the record does not happen.
    """

    first: date = date(2025, 1, 1)
    days: int = 365
    customers_share: float = 1.0


@dataclass(frozen=True)
class Grid:
    """A block of streets: `zone_id` unless `nested` (columns, rows from..to) says another."""

    zone_id: str
    east_m: float
    north_m: float
    columns: int
    rows: int
    across_m: float
    up_m: float
    angle_degrees: float = 0.0
    nested: tuple[tuple[str, range, range], ...] = ()


@dataclass(frozen=True)
class Laying:
    """One age of pipes in a quarter: how common it is, and what was laid then."""

    weight: float
    material: str
    diameters_mm: tuple[int, ...]
    first_year: int
    last_year: int
    roughness: int


@dataclass(frozen=True)
class Zone:
    """One zone: who draws water there, what was laid, the least bore of spines and its feed."""

    zone_id: str
    name: str
    parent_id: str
    households: int
    commercial: int
    farms: int
    layings: tuple[Laying, ...]
    spine_mm: int


_IRON = Laying(5, "cast_iron", (75, 75, 100), 1898, 1938, 70)
_LATE_IRON = Laying(2, "cast_iron", (75, 100), 1938, 1962, 85)
_CEMENT = Laying(3, "asbestos_cement", (75, 100), 1952, 1974, 110)
_DUCTILE = Laying(3, "ductile_iron", (80, 100), 1972, 1998, 120)
_PVC = Laying(3, "pvc", (55, 80, 100), 1978, 2004, 140)
_POLY = Laying(3, "polyethylene", (50, 60, 80), 1998, 2021, 145)
_SMALL_PVC = Laying(3, "pvc", (45, 55, 80), 1978, 2004, 140)
_SMALL_POLY = Laying(3, "polyethylene", (40, 50, 60), 1998, 2021, 145)
_TRUNK = Laying(4, "ductile_iron", (200,), 1974, 1986, 120)
_STEEL = Laying(1, "steel", (200,), 1958, 1966, 95)

ZONES: tuple[Zone, ...] = (
    Zone("T", "Springhead trunk", "", 0, 0, 9, (_TRUNK, _STEEL), 200),
    Zone("C1", "North Court", "", 10, 12, 0, (_CEMENT, _DUCTILE, _PVC), 100),
    Zone("C2", "Old Hall", "C1", 2, 4, 0, (_IRON, _CEMENT), 75),
    Zone("C3", "Laboratory Row", "C1", 0, 2, 0, (_DUCTILE, _POLY, _PVC), 80),
    Zone("C4", "Halls Meadow", "", 70, 2, 0, (_PVC, _POLY), 80),
    Zone("V1", "Church Street", "", 325, 14, 0, (_IRON, _LATE_IRON, _DUCTILE), 75),
    Zone("V2", "Mill Lane", "", 295, 8, 1, (_CEMENT, _LATE_IRON, _PVC), 75),
    Zone("V3", "Orchard Rise", "", 205, 3, 0, (_SMALL_POLY, _SMALL_PVC), 60),
)
ZONE_IDS: tuple[str, ...] = tuple(z.zone_id for z in ZONES)

GRIDS: tuple[Grid, ...] = (
    Grid(
        "C1",
        0,
        0,
        9,
        7,
        80,
        70,
        nested=(("C2", range(1, 4), range(3, 6)), ("C3", range(6, 9), range(0, 3))),
    ),
    Grid("C4", 50, -305, 6, 4, 76, 68, -3),
    Grid("V1", 850, 110, 7, 5, 72, 66, 4),
    Grid("V2", 845, -260, 7, 5, 72, 66, -2),
    Grid("V3", 520, -525, 6, 4, 72, 66, 2),
)
TRUNK_LEGS: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = (
    ("main", ((-640, 860), (-520, 800), (-330, 690), (-130, 560))),
    ("west", ((-130, 560), (-125, 300), (-120, 20), (-110, -220))),
    ("north", ((-130, 560), (100, 535), (320, 530), (560, 525), (755, 500))),
    ("south", ((755, 500), (752, 250), (752, 40), (748, -130), (690, -270))),
)
"""Corners of the trunk; the first is the reservoir, and the first stretch carries its meter."""


@dataclass(frozen=True)
class Link:
    """A pipe from one zone to another, with the device on the edge between them.

    Ends are a grid's column and row, or for the trunk the leg's name and corner. `device` is
    'inlet', 'transfer' or 'shut'.
    """

    device: str
    device_id: str
    from_zone: str
    start: tuple[str | int, int]
    to_zone: str
    end: tuple[str | int, int]


LINKS: tuple[Link, ...] = (
    Link("inlet", "ZM-C1", "T", ("north", 2), "C1", (4, 6)),
    Link("inlet", "ZM-C2", "C1", (2, 2), "C2", (2, 3)),
    Link("inlet", "ZM-C3", "C1", (6, 3), "C3", (6, 2)),
    Link("inlet", "ZM-C4", "T", ("west", 3), "C4", (0, 2)),
    Link("inlet", "ZM-V1", "T", ("south", 1), "V1", (0, 2)),
    Link("inlet", "ZM-V2", "T", ("south", 3), "V2", (0, 2)),
    Link("inlet", "ZM-V3", "T", ("south", 4), "V3", (2, 3)),
    Link("transfer", "ZM-V1V2", "V1", (3, 0), "V2", (3, 4)),
    Link("shut", "BV-C2", "C1", (4, 4), "C2", (3, 4)),
    Link("shut", "BV-C3", "C1", (5, 1), "C3", (6, 1)),
    Link("shut", "BV-C1C4", "C1", (3, 0), "C4", (3, 3)),
    Link("shut", "BV-C4V3", "C4", (5, 0), "V3", (0, 3)),
    Link("shut", "BV-V2V3", "V2", (1, 0), "V3", (5, 3)),
    Link("shut", "BV-V1V2", "V1", (6, 0), "V2", (6, 4)),
)
