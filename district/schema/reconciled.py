"""Tables of the reconciliation: what nested meters say of each other. Estimates as in `outputs`."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

VERDICTS = ("agrees", "off", "cannot_be_checked")
ZONE_VERDICTS = ("agrees", "does_not_close", "unmetered_flow", "cannot_be_checked")
DISTRICT_ROW = "district"
"""The row of zone_checks that holds the test of all zones together."""

METER_CHECKS = Table(
    "meter_checks",
    "each zone meter against the meters and zones beside it",
    (
        Column("meter_id", "text", "zone meter", required=True),
        Column("upstream_cell_id", "text", "zone it measures the outflow of; empty if none"),
        Column("downstream_cell_id", "text", "zone it measures the inflow of; empty if none"),
        *estimated("flow_m3_d", "flow as read, over the recent days"),
        *estimated("reconciled_m3_d", "flow that agrees best with all other readings"),
        Column("verdict", "text", "what the others say of it", choices=VERDICTS),
        Column("since", "date", "first day it is off; empty where it is not"),
        Column("since_low", "date", "earliest likely first day"),
        Column("since_high", "date", "latest likely first day"),
        *estimated("off_share", "how much it reads too high (below zero: too low)"),
        Column("statistic_index", "real", "likelihood ratio of a fault of this meter"),
        Column("critical_index", "real", "what chance alone hardly passes"),
        Column("checked_share", "real", "part of its uncertainty that the other readings remove"),
        Column("reason", "text", "why"),
        Column("act", "flag", "worth acting on now"),
    ),
    key=("meter_id",),
)
ZONE_CHECKS = Table(
    "zone_checks",
    "whether night and day of each zone agree, and water that no meter sees",
    (
        Column("cell_id", "text", "zone, or 'district' for all together", required=True),
        *estimated("leakage_l_s", "night leakage as read, over the recent days"),
        *estimated("reconciled_leakage_l_s", "night leakage that agrees best with all readings"),
        *estimated("unmetered_l_s", "night flow from the other zone that no meter sees"),
        Column("other_cell_id", "text", "zone it comes from (below zero: goes to); empty if none"),
        Column("since", "date", "first day of that flow"),
        Column("statistic_index", "real", "how far night and day disagree"),
        Column("critical_index", "real", "what chance alone hardly passes"),
        Column("verdict", "text", "what it means", choices=ZONE_VERDICTS),
        Column("reason", "text", "why, and what to check"),
        Column("act", "flag", "worth acting on now"),
    ),
    key=("cell_id",),
)
WITHOUT_METER = Table(
    "without_meter",
    "what the night balance becomes without a meter that is off: as read, corrected, left out",
    (
        Column("meter_id", "text", "meter that is off", required=True),
        Column("cell_id", "text", "zone on one of its sides", required=True),
        Column("nights_count", "whole", "nights since it is off", low=0),
        *estimated("leakage_l_s", "night leakage as read"),
        *estimated("corrected_leakage_l_s", "night leakage with the meter put right"),
        *estimated("joint_leakage_l_s", "night leakage of both its zones together, without it"),
    ),
    key=("meter_id", "cell_id"),
)
RECONCILED: tuple[Table, ...] = (METER_CHECKS, ZONE_CHECKS, WITHOUT_METER)
