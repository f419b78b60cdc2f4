"""Tables of pressure and what it does to leakage. Estimates are x, x_low, x_high (95 %)."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

PRESSURE_RESTS_ON = ("logger", "logger_level_unknown", "assumed")
EXPONENT_RESTS_ON = ("default", "both", "fitted")
ZONE_PRESSURE = Table(
    "zone_pressure",
    "pressure of each zone and what one metre less would save; before any is taken off, top "
    "floors and fire supply decide, by the local rules",
    (
        Column("cell_id", "text", "zone", required=True),
        *estimated("pressure_m", "average zone pressure, mean of the day"),
        *estimated("night_pressure_m", "average zone pressure in the night window"),
        Column("loggers_count", "whole", "pressure loggers it rests on", low=0),
        Column("rests_on", "text", "loggers, or an assumption", choices=PRESSURE_RESTS_ON),
        *estimated("exponent_index", "exponent by which leakage follows pressure near there"),
        *estimated("standard_leakage_l_s", "night leakage brought to the standard pressure"),
        *estimated("saving_l_s", "what one metre less saves, mean of day and night"),
        *estimated("saving_m3_year", "what one metre less saves in a year"),
        *estimated("saving_currency_year", "the same at the price of water"),
        Column("basis", "text", "what the figures rest on, and what to look to first"),
    ),
    key=("cell_id",),
)
ZONE_EXPONENTS = Table(
    "zone_exponents",
    "how each zone's leakage follows its pressure, and how far its own record tells that",
    (
        Column("cell_id", "text", "zone", required=True),
        *estimated("exponent_index", "exponent used"),
        Column("pressure_m", "real", "night pressure it holds near"),
        *estimated("fitted_index", "what the record alone tells, where it tells enough"),
        Column("changes_count", "whole", "changes of night pressure it is read from", low=0),
        Column("nights_count", "whole", "nights around them", low=0),
        Column("pressure_range_m", "real", "from the lowest to the highest of their pressures"),
        Column("rests_on", "text", "the usual exponent, the record or both", False, None, None,
               None, EXPONENT_RESTS_ON),
        Column("basis", "text", "why"),
    ),
    key=("cell_id",),
)  # fmt: skip
