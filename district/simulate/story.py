"""What happens in the year: buildings and their ways, leaks, faults and works, as data.

Times are local, ISO 8601 without offset. Places of leaks are drawn, not written here.
"""

from __future__ import annotations

from dataclasses import dataclass

BUILDINGS: dict[str, tuple[tuple[str, str], ...]] = {
    "C1": (
        ("Tarn Library", "library"),
        ("Hawthorn Theatre", "teaching"),
        ("Quern House", "office"),
        ("Linnet Refectory", "catering"),
        ("Rushlight Hall", "hall"),
        ("Bracken Hall", "hall"),
        ("Sundial School", "teaching"),
        ("Lapwing School", "teaching"),
        ("Fellside Sports Centre", "sports"),
        ("Gritstone Workshop", "workshop"),
        ("Quernhollow Clinic", "clinic"),
        ("Ashlar Offices", "office"),
        ("Curlew Music Rooms", "teaching"),
        ("North Boiler House", "plant"),
        ("Plover Nursery", "office"),
    ),
    "C2": (
        ("Old Hall", "office"),
        ("Chantry", "office"),
        ("Dovecote Rooms", "teaching"),
        ("Founders Lodging", "hall"),
        ("Cloister Range", "hall"),
        ("Old Hall Kitchens", "catering"),
        ("Mullion House", "teaching"),
        ("Gatehouse", "office"),
        ("Chapter School", "teaching"),
    ),
    "C3": (
        ("Alder Laboratory", "laboratory"),
        ("Birch Laboratory", "laboratory"),
        ("Rowan Laboratory", "laboratory"),
        ("Hollin Animal House", "animal_house"),
        ("Mere Dialysis Unit", "dialysis"),
        ("Becklight Glasshouses", "glasshouse"),
        ("Cold Store", "plant"),
        ("Yew Laboratory", "laboratory"),
    ),
    "C4": (
        ("Meadow House 1", "hall"),
        ("Meadow House 2", "hall"),
        ("Meadow House 3", "hall"),
        ("Meadow House 4", "hall"),
        ("Meadow House 5", "hall"),
        ("Meadow House 6", "hall"),
        ("Meadowsweet Canteen", "catering"),
        ("Teasel Laundry", "laundry"),
        ("Sedge Common Room", "office"),
        ("Foxtail Flats", "hall"),
        ("Clover Flats", "hall"),
        ("Meadow Plant Room", "plant"),
    ),
}
CRITICAL = ("Quernhollow Clinic", "Mere Dialysis Unit", "Hollin Animal House")
PLANT_ROOMS: tuple[tuple[str, str], ...] = (
    ("WF-1", "North Boiler House"),
    ("WF-2", "Old Hall"),
    ("WF-3", "Alder Laboratory"),
    ("WF-4", "Meadow House 3"),
)
LEAK_CABLES: tuple[tuple[str, str], ...] = (
    ("LC-1", "Foxtail Flats"),
    ("LC-2", "Birch Laboratory"),
)
FLOATS: tuple[tuple[str, str], ...] = (("CF-1", "V1"), ("CF-2", "C4"))
"""Floats in valve chambers: one near the burst of that zone where it has one."""
SHUT_OFF: tuple[tuple[str, str, str], ...] = (("AV-1", "Foxtail Flats", "stays"),)
"""Valves that shut by themselves: valve, building, what they do without power."""
DEAD_METERS: tuple[tuple[str, str], ...] = (("Sedge Common Room", "2025-09-30T09:00"),)
"""Building whose meter stops counting though it still reports, and when."""
SILENT: tuple[tuple[str, str], ...] = (("WF-1", "2025-11-20T13:00"),)
"""Sensor whose battery dies, and when."""
CHATTER: tuple[tuple[str, str, str, int], ...] = (
    ("WF-3", "2025-10-06T00:00", "2025-12-31T00:00", 160),
)
"""Sensor with a loose contact, from when to when, and how many short spells it gives."""


@dataclass(frozen=True)
class Way:
    """How a kind of building draws water, L/s: always (cooling, rinsing), and at the height of its
    day. Where nothing runs always, a meter stands still at some hour of most nights."""

    steady_l_s: float
    peak_l_s: float
    pattern: str
    out_of_term_share: float


WAYS: dict[str, Way] = {
    "library": Way(0.0, 0.07, "work", 0.5),
    "teaching": Way(0.0, 0.08, "work", 0.25),
    "office": Way(0.0, 0.04, "work", 0.8),
    "catering": Way(0.0, 0.25, "meals", 0.35),
    "hall": Way(0.0, 0.22, "home", 0.3),
    "sports": Way(0.0, 0.20, "evening", 0.6),
    "workshop": Way(0.0, 0.06, "work", 0.9),
    "clinic": Way(0.0, 0.09, "work", 0.9),
    "plant": Way(0.015, 0.02, "work", 0.9),
    "laboratory": Way(0.045, 0.13, "work", 0.85),
    "animal_house": Way(0.060, 0.12, "work", 1.0),
    "dialysis": Way(0.030, 0.16, "work", 1.0),
    "glasshouse": Way(0.020, 0.10, "work", 1.0),
    "laundry": Way(0.0, 0.30, "work", 0.4),
}
TERMS: tuple[tuple[str, str], ...] = (
    ("2025-01-13", "2025-03-28"),
    ("2025-04-28", "2025-06-20"),
    ("2025-09-29", "2025-12-12"),
)
HOLIDAYS = (
    "2025-01-01",
    "2025-04-18",
    "2025-04-21",
    "2025-05-05",
    "2025-05-26",
    "2025-08-25",
    "2025-12-25",
    "2025-12-26",
)


@dataclass(frozen=True)
class Seed:
    """One leak or fault. `knots` are (time, flow from then on); 'growing' joins them straight.

    `device_id` is the meter or valve concerned; of a meter fault the flow is a share.
    """

    what: str
    seed_id: str
    zone_id: str
    shape: str
    knots: tuple[tuple[str, float], ...]
    note: str
    device_id: str = ""


SEEDS: tuple[Seed, ...] = (
    Seed("leak", "L1", "V1", "sudden", (("2025-07-09T01:30", 1.2),), "burst joint, runs on"),
    Seed(
        "leak",
        "L2",
        "C1",
        "growing",
        (("2025-09-04T00:00", 0.0), ("2026-01-01T00:00", 0.9)),
        "corroding, grows until the year's end",
    ),
    Seed(
        "leak",
        "L3",
        "V2",
        "stepped",
        (("2025-03-11T04:15", 0.9), ("2025-05-14T14:00", 0.35), ("2025-08-06T15:30", 0.0)),
        "first repair in May closes it half-way, second in August ends it",
    ),
    Seed(
        "building_leak",
        "L4",
        "C4",
        "sudden",
        (("2025-05-12T17:45", 0.15),),
        "tank overflow in Meadow House 3; its plant room is wet five days later",
        device_id="Meadow House 3",
    ),
    Seed(
        "building_leak",
        "L9",
        "C1",
        "sudden",
        (("2025-10-20T16:20", 0.013),),
        "the valve of a cistern in Curlew Music Rooms does not close",
        device_id="Curlew Music Rooms",
    ),
    Seed(
        "building_leak",
        "L10",
        "C4",
        "sudden",
        (("2025-04-05T02:40", 0.7), ("2025-04-07T09:10", 0.0)),
        "a riser bursts in Foxtail Flats in the vacation, and is found on the Monday",
        device_id="Foxtail Flats",
    ),
    Seed("leak", "L5", "C2", "steady", (("2024-06-01T00:00", 0.08),), "old weeping joint"),
    Seed("leak", "L6", "V3", "sudden", (("2025-10-07T00:30", 0.5),), "one of two at once"),
    Seed("leak", "L7", "V3", "sudden", (("2025-10-07T05:00", 0.4),), "the other of two at once"),
    Seed("leak", "L8", "C3", "sudden", (("2025-11-10T03:00", 0.6),), "burst, runs on"),
    Seed(
        "meter_fault",
        "F1",
        "V2",
        "sudden",
        (("2025-08-14T10:00", 0.18),),
        "under-registers by 18 %; the zones on both sides are wrong",
        device_id="ZM-V1V2",
    ),
    Seed(
        "boundary_open",
        "F2",
        "V3",
        "sudden",
        (("2025-10-27T11:00", 1.0),),
        "shut on the map, left a turn open after work; feeds Orchard Rise from Halls Meadow",
        device_id="BV-C4V3",
    ),
    Seed(
        "pool_filling",
        "F3",
        "C1",
        "sudden",
        (
            ("2025-06-17T22:00", 2.5),
            ("2025-06-18T06:00", 0.0),
            ("2025-06-18T22:00", 2.5),
            ("2025-06-19T06:00", 0.0),
        ),
        "teaching pool filled over two nights from a hydrant, told to nobody",
    ),
)


@dataclass(frozen=True)
class Work:
    """A record of works and the water it drew; `place_id` 'pipe of L3' is filled in later, so is
    'meter of' a building."""

    start: str
    end: str
    kind: str
    place_id: str
    note: str
    flow_l_s: float = 0.0
    zone_id: str = ""


WORKS: tuple[Work, ...] = (
    Work("2025-02-11T10:00", "2025-02-11T12:30", "flushing", "V1", "dead ends", 2.0, "V1"),
    Work("2025-03-18T22:00", "2025-03-19T03:30", "flushing", "C2", "after complaints", 1.0, "C2"),
    Work("2025-04-07T08:30", "2025-04-07T11:00", "repair", "meter of Foxtail Flats", "mended"),
    Work("2025-04-23T09:30", "2025-04-23T11:00", "flushing", "V3", "dead ends", 1.5, "V3"),
    Work("2025-05-14T09:00", "2025-05-14T14:00", "repair", "pipe of L3", "clamp fitted"),
    Work("2025-06-03T08:30", "2025-06-03T09:15", "meter_change", "BM12", "meter renewed"),
    Work("2025-08-06T08:00", "2025-08-06T15:30", "repair", "pipe of L3", "length replaced"),
    Work("2025-09-16T10:00", "2025-09-16T11:30", "flushing", "V2", "dead ends", 2.0, "V2"),
    Work("2025-10-14T13:00", "2025-10-14T13:40", "valve_operation", "C1", "valves exercised"),
    Work("2025-10-17T00:50", "2025-10-17T04:00", "valve_operation", "V3", "step test ST-1"),
    Work("2025-10-21T23:20", "2025-10-22T02:40", "fire_use", "V1", "barn fire", 6.0, "V1"),
    Work("2025-12-03T01:00", "2025-12-03T03:00", "planned_use", "C4", "hydrant test", 1.2, "C4"),
)
CHANGED_METER = "BM12"
WET_SPELLS: tuple[tuple[str, str, str], ...] = (
    ("WF-4", "2025-05-17T06:10", "2025-05-20T09:40"),
    ("WF-4", "2025-05-27T21:30", "2026-01-01T00:00"),
    ("WF-2", "2025-02-24T07:20", "2025-02-24T10:05"),
    ("LC-1", "2025-04-05T02:55", "2025-04-07T15:30"),
    ("CF-1", "2025-07-10T05:20", "2026-01-01T00:00"),
    ("CF-2", "2025-11-14T19:40", "2025-11-19T08:10"),
)
"""Sensor, first and last wet reading. The short one is a mop bucket; after a week of rain the
ground water rose into a chamber of Halls Meadow."""
