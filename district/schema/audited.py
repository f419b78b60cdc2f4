"""The audit of the balance: what each figure is made of, and what makes its limits."""

from __future__ import annotations

from district.schema.columns import Column, Table

KINDS = ("figure", "measured", "allowance", "assumed", "counted", "from the map", "derived")
OPERATIONS = ("=", "+", "-", "×", "÷")
AUDIT = Table(
    "audit",
    "each figure with its formula and inputs, and the share each input has in its uncertainty; "
    "a figure is its + rows less its - rows, times its × rows, over its ÷ rows",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        Column("figure", "text", "figure of the balance", required=True),
        Column("rank", "whole", "row of the figure; 0 is the figure itself", required=True, low=0),
        Column("input", "text", "what it is worked out from"),
        Column("kind", "text", "what it rests on", required=True, choices=KINDS),
        Column("operation", "text", "how it enters; empty if in limits alone", choices=OPERATIONS),
        Column("value", "real", "value, in the unit of the row"),
        Column("value_low", "real", "value, lower 95 % limit"),
        Column("value_high", "real", "value, upper 95 % limit"),
        Column("unit", "text", "unit of the row"),
        Column("lowers", "real", "how far its limits lower the figure, in the figure's unit"),
        Column("raises", "real", "how far its limits raise the figure, in the figure's unit"),
        Column("variance_share", "real", "share of the figure's variance", low=0, high=1),
        Column("formula", "text", "how the figure is worked out"),
        Column("source", "text", "setting, layer, readings or publication it comes from"),
    ),
    key=("cell_id", "figure", "rank"),
)
"""`lowers` and `raises` are squared, added up and rooted to give the figure's limits."""
IMPROVEMENTS = Table(
    "improvements",
    "which datum to improve first: the headline of each place were one input known exactly",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        Column("figure", "text", "figure of the audit", required=True),
        Column("rank", "whole", "1 is the input that narrows the limits most", low=1),
        Column("input", "text", "the datum", required=True),
        Column("kind", "text", "what it rests on now", choices=KINDS),
        Column("source", "text", "where it comes from now"),
        Column("variance_share", "real", "share of the figure's variance", low=0, high=1),
        Column("leakage_m3_d", "real", "the figure"),
        Column("leakage_m3_d_low", "real", "lower 95 % limit that would remain"),
        Column("leakage_m3_d_high", "real", "upper 95 % limit that would remain"),
        Column("narrower_share", "real", "by how much the limits would be narrower", low=0, high=1),
    ),
    key=("cell_id", "figure", "rank"),
)
