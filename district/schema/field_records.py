"""What crews and the public saw and heard of a leak: records that stand beside the readings."""

from __future__ import annotations

from district.schema.columns import Column, Table

SURVEY_METHODS = ("listening", "ground_microphone", "correlator", "walk")
SIGHTS = ("running_water", "wet_ground", "noise", "low_pressure", "other")

SURVEYS = Table(
    "surveys",
    "stretches searched for leaks, with or without one found; one row a pipe and date",
    (
        Column("date", "date", "when it was searched", required=True),
        Column("pipe_id", "text", "pipe that was searched", required=True),
        Column(
            "method", "text", "how it was searched", default="listening", choices=SURVEY_METHODS
        ),
        Column("found", "flag", "whether a leak was found on it", default=False),
        Column("from_m", "real", "metres along the pipe from its western end, from which", low=0),
        Column("to_m", "real", "metres along the pipe from its western end, to which", low=0),
        Column(
            "detection_share",
            "real",
            "chance that a leak there is found; by method and material if empty",
            low=0,
            high=1,
        ),
        Column("note", "text", "anything worth knowing"),
    ),
)
STEP_TESTS = Table(
    "step_tests",
    "inflow of a zone while its valves are shut one after another by night; one row a step",
    (
        Column("test_id", "text", "name of the test its steps belong to", required=True),
        Column("time", "time", "when the inflow had settled (local time)", required=True),
        Column(
            "valve_id",
            "text",
            "valve shut at this step and left shut; empty for the start, valves of the "
            "preparation before it",
        ),
        Column("flow_l_s", "real", "inflow once settled", required=True, low=0),
        Column(
            "spread_l_s",
            "real",
            "95 % limit of its error; if empty 2 % of it, and the meter's steps",
            low=0,
        ),
    ),
)
CORRELATIONS = Table(
    "correlations",
    "leak noise heard by two sensors on the pipes, and how much later by the first",
    (
        Column("date", "date", "when it was heard", required=True),
        Column(
            "first_id", "text", "valve_id, meter_id, sensor_id or connection_id of one end", True
        ),
        Column("other_id", "text", "the same of the other end", required=True),
        Column(
            "delay_ms",
            "real",
            "how much later the noise came to the first than to the other; below zero if earlier",
            required=True,
            low=-5000,
            high=5000,
        ),
        Column("spread_ms", "real", "95 % limit of the delay's error", default=2.0, low=0),
        Column("length_m", "real", "laid length between them; along the pipes if empty", low=1),
        Column(
            "wave_speed_m_s",
            "real",
            "speed of sound in the pipe, where measured; by material if empty",
            low=100,
            high=1600,
        ),
        Column("note", "text", "anything worth knowing"),
    ),
)
SIGHTINGS = Table(
    "sightings",
    "what the public or staff reported: water where none should be, noise, low pressure",
    (
        Column("time", "time", "when it was reported (local time)", required=True),
        Column(
            "place_id",
            "text",
            "pipe_id, connection_id, building_id, valve_id, meter_id or sensor_id next to it",
        ),
        Column("longitude_deg", "real", "where, instead of a place_id", low=-180, high=180),
        Column("latitude_deg", "real", "where, instead of a place_id", low=-90, high=90),
        Column("what", "text", "what was seen or heard", default="wet_ground", choices=SIGHTS),
        Column("note", "text", "anything worth knowing"),
    ),
)
