"""Result tables about the year: where the two ways to real losses part, and what looking costs."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

LOSS_GAPS = Table(
    "loss_gaps",
    "real losses of the year by the water balance beside those by the night flows",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        *estimated("top_down_m3", "real losses, top-down from the annual balance"),
        *estimated("bottom_up_m3", "real losses, bottom-up from the night flows"),
        *estimated("gap_m3", "top-down less bottom-up"),
        Column("agrees", "flag", "whether the gap is within the limits of both"),
        Column("statement", "text", "what that says, and the most plausible cause"),
    ),
    key=("cell_id",),
)
GAP_CAUSES = Table(
    "gap_causes",
    "what each input alone would have to be to close the gap, most plausible first",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        Column("rank", "whole", "order of plausibility within the zone", low=1),
        Column("input", "text", "input of the balance", required=True),
        Column("value", "real", "its value, in the unit beside it"),
        Column("closing_value", "real", "the value that alone would close the gap, same unit"),
        Column("unit", "text", "unit of both"),
        Column(
            "deviations_index",
            "real",
            "how many of its own standard deviations the closing value is away",
            low=0,
        ),
        Column("possible", "flag", "whether the closing value can be at all"),
    ),
    key=("cell_id", "input"),
)
ECONOMICS = Table(
    "economics",
    "what leakage costs, how fast it rises, and where and how often a survey pays",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        Column("rank", "whole", "which zone to visit first; empty for the district", low=1),
        Column("statement", "text", "why it stands there"),
        *estimated("rise_m3_d_year", "rate of rise of leakage"),
        Column("rise_note", "text", "what limits that rate, or why it is not known"),
        Column("mains_km", "real", "length of mains", low=0),
        Column("survey_currency", "real", "cost of one survey of all mains", low=0),
        Column("water_currency_m3", "real", "value of water", low=0),
        *estimated("survey_interval_months", "interval of surveys that costs least"),
        *estimated("surveyed_percent", "share of the mains to survey a year"),
        *estimated("survey_budget_currency", "yearly budget of surveys at that interval"),
        *estimated("economic_losses_m3", "unreported losses a year at that interval"),
        *estimated("excess_m3_d", "leakage above the background now"),
        *estimated("excess_day_currency", "value of that, a day"),
        *estimated("excess_year_currency", "value of that, a year"),
        *estimated("payback_d", "days until a survey that finds it all has paid"),
        *estimated(
            "return_index",
            "yearly value of the excess above the economic level, over the cost of a survey",
        ),
    ),
    key=("cell_id",),
)
