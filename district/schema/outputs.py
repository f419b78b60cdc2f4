"""What the stages hand on and what people receive. Estimates are x, x_low, x_high (95 %)."""

from __future__ import annotations

from district.schema.annual_tables import ECONOMICS, GAP_CAUSES, LOSS_GAPS
from district.schema.audited import AUDIT, IMPROVEMENTS
from district.schema.columns import Column, Table, estimated
from district.schema.event_tables import EVENT_TABLES, EVENTS
from district.schema.isolate_tables import VALVE_MAP
from district.schema.located import LOCATED
from district.schema.night_tables import NIGHT_TABLES
from district.schema.pressures import ZONE_EXPONENTS, ZONE_PRESSURE
from district.schema.reconciled import RECONCILED


def _likelihood(piece: str) -> tuple[Column, ...]:
    return (
        *estimated("prior_leaks_per_year", "expected new leaks a year"),
        *estimated("probability_share", f"share of the zone's flow looked for on this {piece}"),
        *estimated("any_leak_share", "probability that any of the leaks looked for is here"),
        *estimated("along_m", f"how far from the start of the {piece} it is, if it is here"),
        Column("probability_per_100_m_share", "real", "probability by 100 m of walk"),
        Column("in_set", "flag", "in the shortest walk that holds the wanted share of its leak"),
        *estimated("flow_l_s", "likely flow if the leak is here"),
        Column("why", "text", "what speaks for it"),
    )


NIGHTS = Table(
    "nights",
    "the night balance: one row a zone and night",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("night", "date", "local date of the night window", required=True),
        Column(
            "status",
            "text",
            "measured; estimated where a meter between two zones lacked readings; or no_inflow",
            choices=("measured", "estimated", "no_inflow"),
        ),
        *estimated("inflow_l_s", "net inflow over the night window"),
        *estimated("minimum_night_flow_l_s", "lowest rolling hour of net inflow"),
        *estimated("measured_use_l_s", "night use of interval-metered users"),
        *estimated("allowed_use_l_s", "night use of the others, by allowance"),
        *estimated("legitimate_use_l_s", "measured and allowed night use together"),
        *estimated("leakage_l_s", "leakage over the night window: inflow less legitimate use"),
        *estimated("background_l_s", "background leakage expected from the components"),
        *estimated("excess_l_s", "leakage above the background"),
        Column("pressure_m", "real", "average zone night pressure"),
        *estimated("standard_leakage_l_s", "leakage brought to the standard pressure"),
        *estimated("night_day_factor_h_d", "daily leakage over night leakage"),
        *estimated("leakage_m3_d", "leakage of the whole day"),
        Column("works", "text", "works recorded in the zone that night, empty if none"),
    ),
    key=("cell_id", "night"),
)
DAYS = Table(
    "days",
    "the water of each zone and day: inflow = consumption + losses + residual, exactly",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("day", "date", "local date", required=True),
        Column("inflow_m3", "real", "net inflow"),
        Column("consumption_m3", "real", "metered (billed reads spread evenly) and allowed use"),
        Column("losses_m3", "real", "leakage from the night balance"),
        Column("residual_m3", "real", "what neither explains: error, unmeasured use"),
    ),
    key=("cell_id", "day"),
)
ZONES = Table(
    "zone_summary",
    "each zone over the recent nights, worst first",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("name", "text", "what people call it"),
        Column("parent_cell_id", "text", "zone it is fed through"),
        Column("mains_km", "real", "length of mains", low=0),
        Column("connections_count", "whole", "service connections", low=0),
        Column("properties_count", "whole", "properties", low=0),
        Column("nights_count", "whole", "nights the figures rest on", low=0),
        *estimated("inflow_m3_d", "net inflow"),
        *estimated("minimum_night_flow_l_s", "minimum night flow"),
        *estimated("legitimate_use_l_s", "legitimate night use"),
        *estimated("leakage_l_s", "night leakage"),
        *estimated("background_l_s", "background leakage expected from the components"),
        *estimated("excess_l_s", "excess night flow, not below nothing"),
        *estimated("service_bursts_count", "burst service pipes that would give the excess"),
        *estimated("night_day_factor_h_d", "night-to-day factor"),
        *estimated("leakage_m3_d", "leakage"),
        *estimated("leakage_l_connection_d", "leakage by connection"),
        *estimated("leakage_m3_km_d", "leakage by length of mains"),
        Column("pressure_m", "real", "average zone pressure"),
        *estimated("leakage_index", "infrastructure leakage index: leakage over unavoidable"),
        Column("index_note", "text", "why the index is outside its limits of use; empty if valid"),
        Column("target_band", "text", "published band A to D; empty where none applies"),
    ),
    key=("cell_id",),
)
ANNUAL = Table(
    "annual_balance",
    "the international standard annual water balance of the district and each zone",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        Column("component", "text", "line of the balance", required=True),
        Column("level", "whole", "depth in the balance, 0 for system input", low=0),
        *estimated("volume_m3", "volume over the year"),
        Column(
            "rests_on",
            "text",
            "measured, night flows, allowance, assumed, apportioned, sum or difference",
        ),
        *estimated("value_currency", "volume at its price"),
    ),
    key=("cell_id", "component"),
)
INDICATORS = Table(
    "indicators",
    "performance indicators of the year, of the district and each zone",
    (
        Column("cell_id", "text", "zone, or 'district'", required=True),
        *estimated("real_losses_m3", "annual real losses"),
        *estimated("unavoidable_losses_m3", "unavoidable annual real losses"),
        *estimated("leakage_index", "infrastructure leakage index"),
        Column("index_note", "text", "why the index is outside its limits of use; empty if valid"),
        *estimated("leakage_l_connection_d", "real losses by connection"),
        *estimated("leakage_m3_km_d", "real losses by length of mains"),
        *estimated("apparent_l_connection_d", "apparent losses by connection"),
        *estimated("non_revenue_share", "non-revenue water as a share of input"),
        *estimated(
            "non_revenue_value_share",
            "value of non-revenue water as a share of all water, each part at its price",
        ),
        *estimated(
            "non_revenue_cost_share",
            "value of non-revenue water as a share of what running the district costs; "
            "empty for zones, and where running_currency_year is not told",
        ),
        Column("pressure_m", "real", "average pressure"),
        Column("target_band", "text", "published band A to D"),
    ),
    key=("cell_id",),
)
LIKELIHOOD = Table(
    "likelihood",
    "where a zone's excess most likely escapes: one row a part of a pipe between devices",
    (
        Column("pipe_id", "text", "part of a pipe", required=True),
        Column("stretch_id", "text", "stretch it belongs to"),
        Column("cell_id", "text", "zone"),
        Column("rank", "whole", "order of search over the district", low=1),
        Column("length_m", "real", "length of the part", low=0),
        *_likelihood("part"),
    ),
    key=("pipe_id",),
)
STRETCHES = Table(
    "stretches",
    "the same by pipe of the map, in order of search: what a crew walks",
    (
        Column("stretch_id", "text", "pipe, or its share of a zone", required=True),
        Column("cell_id", "text", "zone"),
        Column("rank", "whole", "order of search over the district", low=1),
        Column("parts_count", "whole", "parts that valves and meters cut it into", low=1),
        Column("length_m", "real", "length of the stretch", low=0),
        *_likelihood("stretch"),
        Column("from_m", "real", "where along it the walk begins; empty outside the set", low=0),
        Column("to_m", "real", "where along it the walk ends", low=0),
        Column("sought_ids", "text", "the leaks it is walked for"),
    ),
    key=("stretch_id",),
)
LEAKS_OF_TWO = ("", "larger", "smaller")
SEARCH_SETS = Table(
    "search_sets",
    "what to walk for each leak looked for",
    (
        Column("sought_id", "text", "event looked for, or the zone where it is an excess", True),
        Column("leak", "text", "which, where it is taken for two", choices=LEAKS_OF_TWO),
        Column("cell_id", "text", "zone", required=True),
        Column("start", "date", "first night it ran; empty for an excess without an event"),
        *estimated("flow_l_s", "flow looked for"),
        Column("held_share", "real", "probability held by the set"),
        Column("pipes_count", "whole", "stretches in the set", low=0),
        Column("set_km", "real", "length to walk", low=0),
        Column("mains_km", "real", "length of mains in the zone", low=0),
        Column("set_share", "real", "walk as a share of the zone"),
        Column("gap_m", "real", "at most this much longer than the shortest possible set"),
    ),
    key=("sought_id", "leak"),
)
FINDINGS = Table(
    "findings",
    "what is wrong with the input or limits the figures",
    (
        Column("severity", "text", "error, warning or note", choices=("error", "warning", "note")),
        Column("source", "text", "file"),
        Column("place", "text", "row, feature, device or zone"),
        Column("column", "text", "column"),
        Column("got", "text", "what was found"),
        Column("expected", "text", "what was expected"),
        Column("remedy", "text", "how to mend it"),
    ),
)
REPAIR_KINDS = (
    "zero_length",
    "duplicate",
    "snapped_end",
    "tee",
    "split_at_device",
    "short_pipe",
    "self_loop",
    "parallel",
    "crossing",
)
REPAIRS = Table(
    "repairs",
    "what of the pipes as drawn was mended, and what was kept though it may be a slip",
    (
        Column("what", "text", "what it is", required=True, choices=REPAIR_KINDS),
        Column("pipe_id", "text", "pipe of the layer", required=True),
        Column("other_id", "text", "pipe or device it is about; empty if none"),
        Column("distance_m", "real", "how far apart they were, or how long a short line is"),
        Column("geometry", "geometry", "where", required=True),
    ),
    geometry="Point",
)
"""A layer of results.gpkg; not among OUTPUTS, which are tables of figures."""
OUTPUTS: tuple[Table, ...] = (
    ZONES,
    EVENTS,
    STRETCHES,
    LIKELIHOOD,
    SEARCH_SETS,
    *LOCATED,
    *EVENT_TABLES,
    NIGHTS,
    DAYS,
    ANNUAL,
    INDICATORS,
    *NIGHT_TABLES,
    LOSS_GAPS,
    GAP_CAUSES,
    ECONOMICS,
    *RECONCILED,
    AUDIT,
    IMPROVEMENTS,
    FINDINGS,
    ZONE_PRESSURE,
    ZONE_EXPONENTS,
    *VALVE_MAP,
)
