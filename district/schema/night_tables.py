"""What is told of nights beside the night balance: seven nights, periods, users who draw most."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

PERIOD_KINDS = ("week", "month", "quarter", "year")
SEVEN_NIGHTS = Table(
    "seven_nights",
    "minimum night flow and leakage over each seven nights, by their 20th percentile",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("night", "date", "last of the seven nights, local date", required=True),
        Column("nights_count", "whole", "of the seven, measured and without works", low=0, high=7),
        *estimated(
            "minimum_night_flow_l_s", "20th percentile of the lowest rolling hours of seven nights"
        ),
        *estimated("leakage_l_s", "that percentile less the mean legitimate night use"),
    ),
    key=("cell_id", "night"),
)
NIGHT_PERIODS = Table(
    "night_periods",
    "minimum night flow and leakage by week, month, quarter and year",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("period_kind", "text", "length of the period", required=True, choices=PERIOD_KINDS),
        Column("period", "text", "ISO week, month, quarter or year of the local date"),
        Column("first", "date", "first night of the record in it"),
        Column("last", "date", "last night of the record in it"),
        Column("nights_count", "whole", "nights measured and without works", low=0),
        Column("days_count", "whole", "seven-night figures it is the mean of", low=0),
        *estimated("minimum_night_flow_l_s", "mean of the seven-night 20th percentiles"),
        *estimated("leakage_l_s", "mean of the seven-night leakage"),
    ),
    key=("cell_id", "period_kind", "period"),
)
NIGHT_USERS = Table(
    "night_users",
    "users whose measured night use is out of the ordinary, largest first",
    (
        Column("meter_id", "text", "the user's meter", required=True),
        Column("cell_id", "text", "zone", required=True),
        Column("role", "text", "building or customer", choices=("building", "customer")),
        Column("use_class", "text", "class of use, several joined by commas"),
        Column("properties_count", "whole", "properties behind the meter", low=0),
        Column("nights_count", "whole", "recent nights the figures rest on", low=0),
        *estimated("night_use_l_s", "median night use of recent nights"),
        Column("allowance_l_s", "real", "what its class would be allowed without a meter", low=0),
        *estimated("zone_share", "its part of the zone's net night inflow"),
        Column("reason", "text", "why it is listed"),
    ),
    key=("meter_id",),
)
NIGHT_TABLES: tuple[Table, ...] = (SEVEN_NIGHTS, NIGHT_PERIODS, NIGHT_USERS)
