"""The tables a district folder holds, as the user's GIS, loggers and records give them."""

from __future__ import annotations

from district.schema.columns import Column, Table
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS

METER_ROLES = ("inlet", "transfer", "outlet", "building", "customer")
ZONE_METER_ROLES = ("inlet", "transfer", "outlet")
VALVE_KINDS = ("isolation", "boundary", "check", "pressure_reducing", "automatic_shutoff")
FAIL_POSITIONS = ("open", "shut", "stays")
METER_KINDS = ("register", "pulse", "electromagnetic", "transit_time")
RATE_KINDS = ("electromagnetic", "transit_time")
"""Meters that report a flow, rounded at every reading; the others report a volume."""
ALARM_KINDS = ("wet_floor", "leak_cable", "chamber_float")
"""Sensors that read 0 or 1: water on a floor, on a cable along a pipe, risen in a chamber."""
SENSOR_KINDS = ("pressure", "acoustic", *ALARM_KINDS, "tank_level")
WORK_KINDS = (
    "repair",
    "flushing",
    "fire_use",
    "meter_change",
    "valve_operation",
    "planned_use",
    "empty",
)
"""The last is no work: the premises behind the meter stood empty."""
Q4_OVER_Q3 = 1.25
"""Overload over permanent flow, ISO 4064-1:2014 / OIML R 49-1:2013 (also EN 14154)."""
MATERIALS = (
    "cast_iron",
    "ductile_iron",
    "steel",
    "asbestos_cement",
    "pvc",
    "polyethylene",
    "concrete",
    "grp",
    "copper",
    "lead",
    "unknown",
)
STREET_KINDS = ("main_road", "road", "path")
SURFACE_KINDS = (*STREET_KINDS, "railway", "building", "other")
"""What may lie above a pipe."""
PRESSURES = ("setting_m",)
"""Columns in metres of water, which people give in units of pressure."""

PIPES = Table(
    "pipes",
    "mains, one line a stretch",
    (
        Column("pipe_id", "text", "the pipe's own id", required=True),
        Column("geometry", "geometry", "the pipe's line", required=True),
        Column("material", "text", "pipe material", default="unknown", choices=MATERIALS),
        Column("diameter_mm", "real", "inside diameter", default=100.0, low=10, high=3000),
        Column("installed_year", "whole", "year it was laid", low=1800, high=2100),
        Column("length_m", "real", "laid length; measured on the map if empty", low=0.01),
        Column("roughness", "real", "Hazen-Williams C", low=20, high=170),
        Column(
            "status",
            "text",
            "in use or not",
            default="in_use",
            choices=("in_use", "abandoned", "planned"),
        ),
        Column("removed_year", "whole", "year it was taken out of use", low=1800, high=2100),
        Column("ground", "text", "ground it lies in, such as clay or gravel"),
        Column("street", "text", "street it lies in; the nearest of layer streets if empty"),
    ),
    key=("pipe_id",),
    geometry="LineString",
)
VALVES = Table(
    "valves",
    "valves on the mains",
    (
        Column("valve_id", "text", "the valve's own id", required=True),
        Column("geometry", "geometry", "where it is", required=True),
        Column("kind", "text", "what it is for", default="isolation", choices=VALVE_KINDS),
        Column("state", "text", "as it stands", required=True, choices=("open", "shut")),
        Column("operable", "flag", "whether a crew can turn it", default=True),
        Column("setting_m", "real", "outlet pressure held by a reducing valve", low=0, high=250),
        Column("building_id", "text", "building that an automatic shut-off valve shuts, if any"),
        Column(
            "fail_position",
            "text",
            "what an automatic shut-off valve does without power; empty if not known",
            choices=FAIL_POSITIONS,
        ),
    ),
    key=("valve_id",),
    geometry="Point",
)
METERS = Table(
    "meters",
    "flow meters: on mains between zones, at buildings, at customers",
    (
        Column("meter_id", "text", "the id its readings carry", required=True),
        Column("geometry", "geometry", "where it is", required=True),
        Column("role", "text", "what it measures", required=True, choices=METER_ROLES),
        Column(
            "downstream",
            "text",
            "zone_id positive flow goes to; mains only, an outlet may do without",
        ),
        Column("kind", "text", "how it reports", default="register", choices=METER_KINDS),
        Column(
            "reading_unit", "text", "unit of its readings; m3 for registers, l/s for rates, else"
        ),
        Column("litres_per_pulse", "real", "volume of one pulse", low=0.001, high=100000),
        Column("register_digits", "whole", "digits before it rolls over", low=3, high=12),
        Column("resolution_l", "real", "smallest step of the register", low=0.001, high=100000),
        Column("error_percent", "real", "95 % limit of its error", default=2.0, low=0, high=50),
        Column("rate_unit", "text", "unit of a rate beside a register's value; l/s if empty"),
        Column("bore_mm", "real", "inside diameter at the meter", low=3, high=5000),
        Column("q3_m3_h", "real", "permanent flow Q3 on its plate", low=0.1, high=100000),
        Column("ratio_r", "real", "Q3/Q1 on its plate, R", low=10, high=2000),
        Column("accuracy_class", "whole", "class on its plate; 2 if empty", low=1, high=2),
        Column(
            "path_length_mm",
            "real",
            "sound path between the heads of a transit-time meter read by its travel times",
            low=10,
            high=20000,
        ),
        Column("path_angle_deg", "real", "angle of that path to the pipe's axis", low=10, high=80),
        Column(
            "profile_factor",
            "real",
            "mean velocity over that on the path; by the flow if empty",
            low=0.5,
            high=1.1,
        ),
    ),
    key=("meter_id",),
    geometry="Point",
)
ZONES = Table(
    "zones",
    "names of the metered zones; the balance itself follows the pipes",
    (
        Column("zone_id", "text", "the zone's own id", required=True),
        Column("geometry", "geometry", "the zone's outline", required=True),
        Column("name", "text", "what people call it; the id if empty"),
        Column("parent_id", "text", "zone this one is fed through"),
    ),
    key=("zone_id",),
    geometry="Polygon",
)
CONNECTIONS = Table(
    "connections",
    "service connections to buildings and customers",
    (
        Column("connection_id", "text", "the connection's own id", required=True),
        Column("geometry", "geometry", "where it leaves the main or meets the property", True),
        Column("properties", "whole", "properties it serves", default=1, low=0, high=10000),
        Column("use_class", "text", "household, or a class in [allowances]", default="household"),
        Column("critical", "flag", "may not be cut off without agreement", default=False),
        Column("meter_id", "text", "meter of this connection, if any"),
        Column("building_id", "text", "building it serves, if any"),
        Column(
            "private_pipe_m",
            "real",
            "pipe from the property line to the meter",
            default=0.0,
            low=0,
            high=5000,
        ),
        Column("elevation_m", "real", "ground level", low=-450, high=6000),
        Column("people", "real", "people who live or work there, if known", low=0, high=100000),
        Column("floor", "real", "storey it serves, 0 at ground level", low=-20, high=200),
        Column(
            "riser", "text", "rising pipe of its building that it hangs on, if there are several"
        ),
        Column("stopcock", "text", "name of the tap or valve in the building that shuts it off"),
    ),
    key=("connection_id",),
    geometry="Point",
)
SENSORS = Table(
    "sensors",
    "pressure and acoustic loggers, wet-floor sensors, leak cables, chamber floats, tank levels",
    (
        Column("sensor_id", "text", "the id its readings carry", required=True),
        Column("geometry", "geometry", "where it is", required=True),
        Column("kind", "text", "what it senses", required=True, choices=SENSOR_KINDS),
        Column("reading_unit", "text", "unit of its readings; m for pressure and levels if empty"),
        Column("elevation_m", "real", "level of the gauge", low=-450, high=6000),
        Column("building_id", "text", "building it stands in, if any"),
        Column("surface_m2", "real", "plan area of a tank's water surface", low=0.1, high=1e6),
    ),
    key=("sensor_id",),
    geometry="Point",
)
SOURCES = Table(
    "sources",
    "where water enters: reservoirs, wells, bulk supplies",
    (
        Column("source_id", "text", "the source's own id", required=True),
        Column("geometry", "geometry", "where it is", required=True),
        Column("head_m", "real", "water level above datum", low=-450, high=6000),
    ),
    key=("source_id",),
    geometry="Point",
)
WORKS = Table(
    "works",
    "what was done on the network, so that it is not taken for a leak",
    (
        Column("start", "time", "when it began (local time)", required=True),
        Column("end", "time", "when it ended; the same day if empty"),
        Column("kind", "text", "what it was", required=True, choices=WORK_KINDS),
        Column(
            "place_id",
            "text",
            "zone_id, pipe_id, meter_id, valve_id or connection_id",
            required=True,
        ),
        Column("note", "text", "anything worth knowing"),
    ),
)
BREAKS = Table(
    "breaks",
    "past bursts and repairs",
    (
        Column("date", "date", "when it was found", required=True),
        Column("pipe_id", "text", "pipe it was on"),
        Column("longitude_deg", "real", "where, instead of a pipe_id", low=-180, high=180),
        Column("latitude_deg", "real", "where, instead of a pipe_id", low=-90, high=90),
        Column("kind", "text", "what broke", default="main", choices=("main", "service")),
    ),
    either=(("pipe_id",), ("longitude_deg", "latitude_deg")),
)
READINGS = Table(
    "readings",
    "what meters and sensors report, one row a reading",
    (
        Column("device_id", "text", "meter_id or sensor_id", required=True),
        Column("time", "time", "when it was read", required=True),
        Column("value", "real", "register, pulses, rate, pressure, or 0/1", required=True),
        Column("rate", "real", "rate beside a register's value, in the meter's rate_unit"),
        Column("up_us", "real", "travel time of sound against the flow, instead of a value"),
        Column("down_us", "real", "travel time of sound with the flow, instead of a value"),
    ),
)

STREETS = Table(
    "streets",
    "streets and paths a crew walks on its search; along the pipes where there is no such layer",
    (
        Column("street_id", "text", "the line's own id", required=True),
        Column("geometry", "geometry", "the line walked", required=True),
        Column("name", "text", "what people call it; the id if empty"),
        Column("kind", "text", "what it is", default="road", choices=STREET_KINDS),
    ),
    key=("street_id",),
    geometry="LineString",
)
SURFACES = Table(
    "surfaces",
    "what lies above the pipes and makes a break dear: roads, railways, buildings",
    (
        Column("surface_id", "text", "its own id", required=True),
        Column("geometry", "geometry", "its outline", required=True),
        Column("kind", "text", "what it is", required=True, choices=SURFACE_KINDS),
    ),
    key=("surface_id",),
    geometry="Polygon",
)

LAYERS: tuple[Table, ...] = (PIPES, VALVES, METERS, ZONES, CONNECTIONS, SENSORS, SOURCES)
"""Tables with geometry."""
OTHER_LAYERS: tuple[Table, ...] = (STREETS, SURFACES)
"""Tables with geometry that no figure rests on: found by name, never guessed."""
RECORDS: tuple[Table, ...] = (WORKS, BREAKS, SURVEYS, STEP_TESTS, CORRELATIONS, SIGHTINGS)
"""Tables without."""
NEEDED_LAYERS = ("pipes", "meters", "zones", "connections", "sources")
"""Layers without which nothing can be balanced."""
