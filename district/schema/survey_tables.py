"""The walk of a crew over the pieces to search: legs, where to listen, where to set sensors."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

SURVEY_CAUTION = (
    "Who walks and listens does so beside traffic and mostly by night: in twos, lit and in "
    "high-visibility clothing, by the local rules for work in roads, and never alone in the dark. "
    "Lift covers with the right tools, guard every open cover, and stay out: no chamber is entered "
    "without the procedure for confined spaces and the people licensed for it. Touch no valve, and "
    "open no hydrant, without who answers for them. Headphones low before a microphone is set "
    "down. Water near cables, or ground that sounds hollow: keep off, and call. Digging is for "
    "licensed people, once other services are located. Enter private ground by agreement alone."
)
"""Shown with every walk."""
WALKED_BY = ("pipes", "streets", "straight")
"""`straight`: no line of the map leads there."""
BY_WORDS = {"pipes": "along the pipes", "streets": "by streets", "straight": "straight line"}
ROUND_WORDS = {
    "shortest": "shortest",
    "soonest": "soonest to the leak",
    "by_density": "by flow found for each metre",
}
"""Order of a round, as people call it."""
ROUNDS = tuple(ROUND_WORDS)
POINT_KINDS = ("valve", "hydrant", "meter", "sensor", "connection", "ground")
"""`ground`: no fitting is there; on the surface above the pipe."""
FITTING_KINDS = POINT_KINDS[:-1]

SURVEY_LEGS = Table(
    "survey_legs",
    "the walk piece by piece, in order: the shortest round that was found",
    (
        Column("leg", "whole", "order over all shifts", required=True, low=1),
        Column("shift", "whole", "shift it is walked in", required=True, low=1),
        Column("cell_id", "text", "zone"),
        Column("stretch_id", "text", "stretch of table stretches", required=True),
        Column("from_m", "real", "where along the stretch it begins, as it is walked", low=0),
        Column("to_m", "real", "where it ends; below from_m where it is walked back", low=0),
        Column("there_m", "real", "walk there from the leg before, or from the start", low=0),
        Column("there_by", "text", "what that walk is along", choices=WALKED_BY),
        Column("length_m", "real", "length to search", low=0),
        Column("points_count", "whole", "listening points on it", low=0),
        Column("leg_min", "real", "minutes for it, the walk there included", low=0),
        Column("since_start_min", "real", "minutes since the shift began, at its end", low=0),
        *estimated("probability_share", "share of the zone's flow looked for on it"),
        Column("probability_per_100_m_share", "real", "the same by 100 m of it"),
        Column("expected_flow_l_s", "real", "flow expected on it: the zone's by that share"),
        Column("cumulative_share", "real", "share of all flow looked for passed by its end"),
        Column("density_rank", "whole", "order by flow expected for each metre", low=1),
        Column("soonest_rank", "whole", "order of the round that finds the leak soonest", low=1),
        Column("sought_ids", "text", "the leaks it is walked for"),
        Column("geometry", "geometry", "the line, as it is walked", required=True),
    ),
    key=("leg",),
    geometry="LineString",
)
SURVEY_PATHS = Table(
    "survey_paths",
    "the walks between the pieces, and back",
    (
        Column("shift", "whole", "shift", required=True, low=1),
        Column("leg", "whole", "leg that it leads to; empty for the way back", low=1),
        Column("by", "text", "what it is along", required=True, choices=WALKED_BY),
        Column("length_m", "real", "length", low=0),
        Column("geometry", "geometry", "the line", required=True),
    ),
    geometry="LineString",
)
LISTENING_POINTS = Table(
    "listening_points",
    "where to listen, in order of the walk",
    (
        Column("rank", "whole", "order over all shifts", required=True, low=1),
        Column("shift", "whole", "shift", required=True, low=1),
        Column("leg", "whole", "leg of table survey_legs", required=True, low=1),
        Column("kind", "text", "what to listen at", required=True, choices=POINT_KINDS),
        Column("fitting_id", "text", "its id; empty on the ground"),
        Column("cell_id", "text", "zone"),
        Column("stretch_id", "text", "stretch it is on"),
        Column("along_m", "real", "where along the stretch", low=0),
        Column("material", "text", "of the pipe there"),
        Column("geometry", "geometry", "where", required=True),
    ),
    key=("rank",),
    geometry="Point",
)
SET_UPS = Table(
    "set_ups",
    "where to set two sensors of a correlator about a piece, and the delay to expect",
    (
        Column("set_up", "whole", "order of the walk", required=True, low=1),
        Column("leg", "whole", "first leg it is for", required=True, low=1),
        Column("cell_id", "text", "zone"),
        Column("stretch_id", "text", "stretch", required=True),
        Column("from_m", "real", "where along the stretch that begins which it is for", low=0),
        Column("to_m", "real", "where that ends", low=0),
        Column("first_id", "text", "fitting of the first sensor", required=True),
        Column("first_kind", "text", "what that is", choices=FITTING_KINDS),
        Column("other_id", "text", "fitting of the other", required=True),
        Column("other_kind", "text", "what that is", choices=FITTING_KINDS),
        Column("between_m", "real", "along the pipe between them", low=0),
        Column("materials", "text", "of the pipes between them, from the first on"),
        *estimated("speed_m_s", "speed of sound between them"),
        *estimated("likeliest_m", "from the first sensor to where the leak likely is, if here"),
        *estimated("delay_ms", "how much later its noise then comes to the first than the other"),
        Column("delay_from_ms", "real", "the same for a leak where the piece begins"),
        Column("delay_to_ms", "real", "the same for one where it ends"),
        Column("most_apart_m", "real", "how far apart the sensors may be on such pipes", low=0),
        Column("too_far", "flag", "whether they are farther apart than that"),
        Column("said", "text", "what to mind; empty if nothing"),
        Column("geometry", "geometry", "the pipe between them", required=True),
    ),
    key=("set_up",),
    geometry="LineString",
)
SURVEY_SHIFTS = Table(
    "survey_shifts",
    "the shifts, the one that finds most by the hour first",
    (
        Column("shift", "whole", "order", required=True, low=1),
        Column("cell_ids", "text", "zones it is in"),
        Column("start", "text", "where it begins and ends, in words"),
        Column("legs_count", "whole", "pieces", low=0),
        Column("searched_m", "real", "metres searched", low=0),
        Column("walked_m", "real", "metres walked to, between and back from them", low=0),
        Column("points_count", "whole", "listening points", low=0),
        Column("work_h", "real", "hours it takes", low=0),
        Column("fits", "flag", "whether that is within a shift"),
        Column("expected_flow_l_s", "real", "flow expected on its pieces"),
        Column("cumulative_share", "real", "share of all flow looked for passed by its end"),
    ),
    key=("shift",),
)
SURVEY_ROUNDS = Table(
    "survey_rounds",
    "the same pieces walked in other orders, for comparison",
    (
        Column("cell_ids", "text", "zones of one round", required=True),
        Column("order", "text", "order of the pieces", required=True, choices=ROUNDS),
        Column("shifts_count", "whole", "shifts it takes", low=0),
        Column("searched_m", "real", "metres searched", low=0),
        Column("walked_m", "real", "metres walked to, between and back from the pieces", low=0),
        Column("work_h", "real", "hours of all shifts", low=0),
        Column("found_h", "real", "expected hours until the leak is passed, if it is on a piece"),
    ),
    key=("cell_ids", "order"),
)
SURVEY_TABLES: tuple[Table, ...] = (
    SURVEY_LEGS,
    SURVEY_PATHS,
    LISTENING_POINTS,
    SET_UPS,
    SURVEY_SHIFTS,
    SURVEY_ROUNDS,
)
