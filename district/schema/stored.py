"""Readings in one form, and the reductions of them that stages receive."""

from __future__ import annotations

from district.schema.columns import Column, Table
from district.schema.inputs import METER_KINDS, SENSOR_KINDS

QUALITIES = ("ok", "gap", "spike", "stuck", "reset", "negative", "impossible")

RAW = Table(
    "raw",
    "readings as their files say them, before any cleaning",
    (
        Column("device_id", "text", "meter or sensor", required=True),
        Column("time_utc", "time", "time read; of a repeated hour the first round", required=True),
        Column("later_s", "whole", "how much later the second round of that hour is, s", low=0),
        Column("value", "real", "value in the device's own unit"),
        Column("rate", "real", "rate beside a register's total, in its own unit"),
        Column("row", "whole", "row in the file", low=1),
    ),
)
INTERVALS = Table(
    "intervals",
    "flow through a meter or into a tank, one row an interval; volume is empty where unusable",
    (
        Column("device_id", "text", "meter, or level sensor of a tank", required=True),
        Column("start_utc", "time", "start of the interval", required=True),
        Column("end_utc", "time", "end of the interval", required=True),
        Column(
            "volume_m3",
            "real",
            "volume passed; negative against the meter's direction, or given by a tank",
        ),
        Column(
            "quality",
            "text",
            "ok; gap (bridged: volume right, hour unknown); the rest unusable",
            required=True,
            choices=QUALITIES,
        ),
    ),
    key=("device_id", "start_utc"),
)
SAMPLES = Table(
    "samples",
    "what a sensor showed: pressure in m of water, or 0/1",
    (
        Column("device_id", "text", "sensor", required=True),
        Column("time_utc", "time", "instant", required=True),
        Column("value", "real", "pressure_m, or 1 while wet"),
        Column("quality", "text", "ok or what is wrong", required=True, choices=QUALITIES),
    ),
    key=("device_id", "time_utc"),
)
DEVICE_QUALITY = Table(
    "device_quality",
    "how much of a device's record survived, over the whole period read",
    (
        Column("device_id", "text", "meter or sensor", required=True),
        Column("kind", "text", "kind of meter or sensor", choices=METER_KINDS + SENSOR_KINDS),
        Column("source", "text", "file its readings are in, or the pattern of several"),
        Column("first_utc", "time", "first reading"),
        Column("last_utc", "time", "last reading"),
        Column("step_h", "real", "usual interval", low=0),
        Column("readings_count", "whole", "rows read", low=0),
        Column("expected_count", "whole", "usual intervals in the period", low=0),
        Column("missing_count", "whole", "of those, without a reading of their own", low=0),
        Column("gap_count", "whole", "longer intervals, bridged for volumes only", low=0),
        Column("spike_count", "whole", "readings set aside as spikes", low=0),
        Column("stuck_count", "whole", "readings set aside as stuck", low=0),
        Column("reset_count", "whole", "intervals across a reset or new register", low=0),
        Column("negative_count", "whole", "readings set aside as below zero", low=0),
        Column("impossible_count", "whole", "readings set aside as more than can pass", low=0),
        Column("missing_share", "real", "share of the usual intervals without a reading"),
        Column(
            "unusable_share", "real", "share flagged as spike, stuck, reset, negative or impossible"
        ),
        Column("resolution_m3", "real", "smallest volume the device can show", low=0),
    ),
    key=("device_id",),
)
FEW_READINGS = 20
"""Where fewer readings are expected, a missing one is no share worth telling."""
NIGHT_FLOWS = Table(
    "night_flows",
    "mean flow of a meter over the night window, from intervals of at most one hour",
    (
        Column("device_id", "text", "meter", required=True),
        Column("night", "date", "local date of the window", required=True),
        Column("flow_l_s", "real", "mean over the window; empty if less than all was read"),
        Column("gross_l_s", "real", "the same, flow either way counted as positive", low=0),
        Column("window_h", "real", "length of the window", low=0),
        Column("coverage_share", "real", "share of the window with usable readings", low=0),
    ),
    key=("device_id", "night"),
)
NIGHT_MINIMA = Table(
    "night_minima",
    "lowest rolling hour of the net inflow of a cell in the hours around the window",
    (
        Column("cell_id", "text", "cell", required=True),
        Column("night", "date", "local date", required=True),
        Column("minimum_night_flow_l_s", "real", "lowest rolling hour"),
        Column("start_utc", "time", "start of that hour, the earliest of equal ones"),
    ),
    key=("cell_id", "night"),
)
LOWEST_HOURS = Table(
    "lowest_hours",
    "mean flow of a cell's meters, at its edge and of its users, over the cell's lowest hour",
    (
        Column("cell_id", "text", "cell", required=True),
        Column("device_id", "text", "meter at the cell's edge or of a user inside", required=True),
        Column("night", "date", "local date", required=True),
        Column("flow_l_s", "real", "mean over that hour; empty if less than all was read"),
        Column("gross_l_s", "real", "the same, flow either way counted as positive", low=0),
        Column("window_h", "real", "length of the window", low=0),
        Column("coverage_share", "real", "share of the hour with usable readings", low=0),
    ),
    key=("cell_id", "device_id", "night"),
)
DAILY_VOLUMES = Table(
    "daily_volumes",
    "volume through a meter by local day; intervals longer than a day are spread evenly",
    (
        Column("device_id", "text", "meter", required=True),
        Column("day", "date", "local date", required=True),
        Column("volume_m3", "real", "volume passed in the covered part of the day"),
        Column("gross_m3", "real", "the same, volume either way counted as positive", low=0),
        Column("coverage_share", "real", "share of the day covered, bridged gaps included"),
        Column("spread_share", "real", "share of the day from intervals longer than a day"),
    ),
    key=("device_id", "day"),
)
HOURLY_FLOWS = Table(
    "hourly_flows",
    "mean flow of a meter by local day and hour, from intervals of at most one hour",
    (
        Column("device_id", "text", "meter", required=True),
        Column("day", "date", "local date", required=True),
        Column("hour", "whole", "local hour of the day", low=0, high=23),
        Column("flow_l_s", "real", "mean over the hour; hours not wholly read have no row"),
    ),
    key=("device_id", "day", "hour"),
)
STILL_DAYS = Table(
    "still_days",
    "whether a building's meter stood still, by local day and hour, from intervals of an hour at "
    "most, and what it showed while nobody was there",
    (
        Column("device_id", "text", "meter of a building or customer", required=True),
        Column("day", "date", "local date", required=True),
        Column("hours_count", "whole", "hours read, counted from midnight", low=0),
        Column("still_count", "whole", "of those, hours in which nothing passed", low=0),
        Column("lowest_l_s", "real", "mean flow of the lowest hour read", low=0),
        Column("longest_still_h", "real", "longest spell of still hours within the day", low=0),
        Column("still_first_h", "real", "still hours from midnight to the first other", low=0),
        Column("still_last_h", "real", "still hours after the last other, to midnight", low=0),
        Column("flow_last_h", "real", "hours read since the last still one, to midnight", low=0),
        Column("stuck_h", "real", "time set aside as stuck at one flow", low=0),
        Column("empty_l_s", "real", "mean flow in the hours when nobody is there", low=0),
        Column("empty_h", "real", "time it was read over in those hours", low=0),
    ),
    key=("device_id", "day"),
)
EMPTY_PERIODS = Table(
    "empty_periods",
    "what passed through a meter from reading to reading around a recorded time of emptiness",
    (
        Column("device_id", "text", "meter", required=True),
        Column("start_utc", "time", "start of the time the premises stood empty", required=True),
        Column("end_utc", "time", "its end", required=True),
        Column("inside_h", "real", "time between readings wholly within it", low=0),
        Column("inside_m3", "real", "volume between those"),
        Column("over_h", "real", "time between the readings around it; empty if not read", low=0),
        Column("over_m3", "real", "volume between those"),
        Column("usual_m3_h", "real", "mean flow outside; empty if never read"),
    ),
    key=("device_id", "start_utc", "end_utc"),
)
HOURLY_PRESSURES = Table(
    "hourly_pressures",
    "mean pressure at a logger by local day and hour",
    (
        Column("device_id", "text", "pressure logger", required=True),
        Column("day", "date", "local date", required=True),
        Column("hour", "whole", "local hour of the day", low=0, high=23),
        Column("pressure_m", "real", "mean over the hour"),
    ),
    key=("device_id", "day", "hour"),
)
ALARMS = Table(
    "alarms",
    "spells during which a wet-floor sensor was wet",
    (
        Column("device_id", "text", "sensor", required=True),
        Column("start_utc", "time", "first wet reading", required=True),
        Column("end_utc", "time", "last wet reading", required=True),
        Column("readings_count", "whole", "wet readings", low=1),
    ),
)
ACOUSTIC_NIGHTS = Table(
    "acoustic_nights",
    "lowest noise at an acoustic logger by night: that of a leak is steady, that of use is not",
    (
        Column("device_id", "text", "acoustic logger", required=True),
        Column("night", "date", "local date of the window", required=True),
        Column("level_db", "real", "lowest level in the night window"),
        Column("readings_count", "whole", "sound readings in the window", low=1),
    ),
    key=("device_id", "night"),
)
STORED: tuple[Table, ...] = (
    RAW,
    INTERVALS,
    SAMPLES,
    DEVICE_QUALITY,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
    LOWEST_HOURS,
    DAILY_VOLUMES,
    HOURLY_FLOWS,
    STILL_DAYS,
    EMPTY_PERIODS,
    HOURLY_PRESSURES,
    ALARMS,
    ACOUSTIC_NIGHTS,
)
