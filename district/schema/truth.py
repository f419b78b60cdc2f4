"""What was seeded in a simulated district. Read only by tests and scoring, never by a stage."""

from __future__ import annotations

from district.schema.columns import Column, Table

SEEDED_KINDS = ("leak", "building_leak", "meter_fault", "boundary_open", "pool_filling")
SEEDED_SHAPES = ("sudden", "growing", "stepped", "steady")

TRUTH = Table(
    "truth",
    "every leak and fault seeded, one row each",
    (
        Column("what", "text", "what was seeded", required=True, choices=SEEDED_KINDS),
        Column("id", "text", "its own id", required=True),
        Column("zone_id", "text", "zone it lies in; the fed zone of an open boundary valve"),
        Column("pipe_id", "text", "layer pipe it is on; empty inside a building"),
        Column("along_m", "real", "how far along that pipe, as drawn, from its start", low=0),
        Column("device_id", "text", "meter or valve it concerns, if any"),
        Column("longitude", "real", "WGS 84", low=-180, high=180),
        Column("latitude", "real", "WGS 84", low=-90, high=90),
        Column("start_local", "text", "local time it began, ISO 8601 without offset"),
        Column("end_local", "text", "local time it ended; empty while it runs"),
        Column("flow_l_s", "real", "mean night flow over its last week (meter fault: flow missed)"),
        Column("shape", "text", "how it came", choices=SEEDED_SHAPES),
        Column("note", "text", "what happened, in words"),
    ),
    key=("id",),
)
TRUTH_NIGHTS = Table(
    "truth_nights",
    "true leakage of each zone and night, before any meter",
    (
        Column("zone_id", "text", "zone", required=True),
        Column("night", "date", "local date", required=True),
        Column(
            "leakage_l_s",
            "real",
            "mean over 02:00-04:00 of the zone's own area: background and underground leaks; "
            "not leaks inside buildings, not exchange through an open boundary valve",
            required=True,
            low=0,
        ),
        Column(
            "affected",
            "flag",
            "a seeded meter fault or open boundary valve touched the zone that night",
            required=True,
        ),
    ),
    key=("zone_id", "night"),
)
