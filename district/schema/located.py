"""Tables of where a leak is and what told it. Estimates are x, x_low, x_high (95 %)."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

EVIDENCE_WORDS = {
    "prior": "leaks expected",
    "size": "size of the flow",
    "pressure": "pressure loggers",
    "step_test": "step test",
    "correlator": "correlator",
    "acoustic": "acoustic loggers",
    "wet_floor": "water alarm",
    "sighting": "water reported",
    "survey": "pipes surveyed",
}
"""Kind of evidence for where a leak is, as people call it."""
EVIDENCE_KINDS = tuple(EVIDENCE_WORDS)
EVIDENCE = Table(
    "evidence",
    "what speaks for and against each stretch, one row a leak looked for and a piece of evidence",
    (
        Column("sought_id", "text", "event looked for, or the zone where it is an excess", True),
        Column("cell_id", "text", "zone", required=True),
        Column("kind", "text", "kind of evidence", required=True, choices=EVIDENCE_KINDS),
        Column("said", "text", "what was seen, in a sentence"),
        Column("used", "flag", "whether it counted; the reason stands in said where it did not"),
        Column("walk_m", "real", "metres of the 90 % set with this and all rows above it", low=0),
        Column("walk_without_m", "real", "metres of the final set had this one been left out"),
        Column("moved_share", "real", "share of probability that this one moved, 0 to 1"),
    ),
    key=("sought_id", "kind", "said"),
)
LOGGER_CHECKS = Table(
    "logger_checks",
    "how well the hydraulic model explains each pressure logger",
    (
        Column("sensor_id", "text", "pressure logger", required=True),
        Column("cell_id", "text", "zone"),
        Column("hours_count", "whole", "hours compared", low=0),
        *estimated("offset_m", "by which it reads too high, level of the gauge included"),
        Column("before_m", "real", "root mean square of measured less modelled, before fitting"),
        Column("after_m", "real", "the same after the fit, without what its zone's loggers share"),
        Column("course_m", "real", "root mean square of its own course about its mean"),
        Column("used", "flag", "whether it is evidence for where a leak is"),
        Column("said", "text", "why not, where it is not"),
    ),
    key=("sensor_id",),
)
CALIBRATION = Table(
    "calibration",
    "roughness by group of pipes, as the loggers tell it",
    (
        Column("group", "text", "material and age", required=True),
        Column("pipes_km", "real", "length of its pipes", low=0),
        Column("roughness", "real", "Hazen-Williams C before, mean by length"),
        *estimated("factor_index", "what it is multiplied by"),
        Column("rests_on", "text", "readings or assumption", choices=("readings", "assumption")),
    ),
    key=("group",),
)
DETECTABILITY = Table(
    "detectability",
    "the smallest leak on each pipe that the present meters and loggers would show, and the walk "
    "that a leak of the stated size would take; one row a part of a pipe",
    (
        Column("pipe_id", "text", "part of a pipe", required=True),
        Column("cell_id", "text", "zone"),
        *estimated("smallest_l_s", "smallest leak shown within the stated nights"),
        Column("nights_count", "whole", "nights within which it is shown", low=0),
        Column("shown_by", "text", "what would show it first", choices=("inflow", "pressure", "")),
        Column("leak_l_s", "real", "size of the leak that the walk is for", low=0),
        *estimated("walk_m", "expected metres walked before a leak of the stated size is found"),
        Column("walk_share", "real", "the same as a share of the zone's mains", low=0, high=1),
    ),
    key=("pipe_id",),
)
ZONE_REACH = Table(
    "zone_reach",
    "what the present meters and loggers would do for leaks of several sizes, by zone",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("leak_l_s", "real", "size of the leak", required=True, low=0),
        *estimated("shown_share", "share of expected leaks it would be shown on"),
        *estimated("walk_share", "expected walk to it, as a share of the zone's mains"),
    ),
    key=("cell_id", "leak_l_s"),
)
DEVICE_WORDS = {"pressure_logger": "pressure logger", "zone_meter": "zone meter"}
"""Kind of a device to add, as people call it."""
NEXT_DEVICES = Table(
    "next_devices",
    "where the next pressure logger or meter shortens the walk most, best first",
    (
        Column("rank", "whole", "order; each gain is with all before it in place", True, low=1),
        Column("kind", "text", "what to put there", choices=tuple(DEVICE_WORDS)),
        Column("pipe_id", "text", "pipe to put it on"),
        Column("pipe_2_id", "text", "second pipe to meter or shut, where one meter parts nothing"),
        Column("cell_id", "text", "zone"),
        Column("leak_l_s", "real", "size of the leak that the walks are for", low=0),
        *estimated("walk_before_m", "expected walk for a leak of the stated size without it"),
        *estimated("walk_after_m", "the same with it"),
        Column("gain_share", "real", "share of the walk it saves, over the zone's expected leaks"),
    ),
    key=("rank",),
)
NIGHT_NOISE = Table(
    "night_noise",
    "how far the night leakage of each zone scatters, as the change test takes it",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("nights_count", "whole", "nights it rests on", low=0),
        *estimated("noise_l_s", "standard deviation that the mean of several nights behaves by"),
    ),
    key=("cell_id",),
)
LOCATED: tuple[Table, ...] = (
    EVIDENCE,
    LOGGER_CHECKS,
    CALIBRATION,
    DETECTABILITY,
    ZONE_REACH,
    NEXT_DEVICES,
    NIGHT_NOISE,
)
