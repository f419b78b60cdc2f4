"""Which valves to shut for a stretch of pipe, and whom that leaves without water."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

ISOLATION_CAUTION = (
    "Shutting valves takes water from people, and from fire hoses and sprinklers: for a licensed "
    "crew alone, under the local rules. Settle fire supply first; tell and supply critical users, "
    "dialysis at home among them, before a valve is turned. The map may be wrong about a valve or "
    "a pipe: prove on the spot that the stretch is dry and stays dry before anybody digs, cuts or "
    "enters a chamber. Turn valves slowly, count the turns, and open them slowly again: flush, as "
    "water may come discoloured."
)
"""Shown with every plan."""
USER_KINDS = ("medical", "fire", "process", "critical", "other")
"""Who is told of first. `critical`: flagged so, and of no class that says why."""
LOSSES = (
    Column("pipes_count", "whole", "parts of pipes", low=0),
    Column("length_m", "real", "length of pipe", low=0),
    Column("connections_count", "whole", "service connections", low=0),
    Column("properties_count", "whole", "properties", low=0),
    *estimated(
        "people_count", "people, as told or at so many a household; those of other uses not counted"
    ),
    Column("critical_count", "whole", "connections of medical, fire, process or critical use"),
    *estimated("use_l_s", "mean use, as allowed for by class"),
)
"""What is told of any part of the network that is without water."""


def losses(before: str, meaning: str) -> tuple[Column, ...]:
    """The columns of `LOSSES` under names that begin with `before`."""
    return tuple(
        Column(f"{before}_{c.name}", c.kind, f"{meaning}: {c.meaning}", low=c.low) for c in LOSSES
    )


SEGMENTS = Table(
    "segments",
    "parts of the network that valves shut off as one, by their first pipe",
    (
        Column("segment_id", "text", "id of its first pipe", required=True),
        *LOSSES,
        Column("valves", "text", "open valves around it; one of each place"),
        Column("valves_count", "whole", "places around it with an open valve", low=0),
        Column("shut_valves", "text", "valves around it that stand shut"),
        Column("sources", "text", "sources that feed it with no valve between; empty if none"),
        Column("tanks", "text", "tanks on it; empty if none"),
        Column("cell_ids", "text", "zones it lies in"),
        Column("fed", "flag", "whether water reaches it as the valves stand"),
    ),
    key=("segment_id",),
)
SEGMENT_PIPES = Table(
    "segment_pipes",
    "the segment of each part of a pipe",
    (
        Column("pipe_id", "text", "part of a pipe", required=True),
        Column("segment_id", "text", "segment", required=True),
    ),
    key=("pipe_id",),
)
SEGMENT_LOSSES = Table(
    "segment_losses",
    "who is without water when a segment is shut off, the worst first",
    (
        Column("segment_id", "text", "segment shut off", required=True),
        Column("valves_count", "whole", "valves to shut", low=0),
        Column("sources", "text", "sources to shut as well; empty if none"),
        Column("areas_count", "whole", "areas cut off beside it, unintended", low=0),
        *losses("dry", "without water, the segment included"),
        *losses("unintended", "of these, beside the segment"),
        Column("rank", "whole", "order: critical users, then properties, then length", low=1),
    ),
    key=("segment_id",),
)
VALVE_LOSSES = Table(
    "valve_losses",
    "what more is without water when a valve does not close, the worst first",
    (
        Column("valve_id", "text", "open valve", required=True),
        Column("segment_id", "text", "segment on one side", required=True),
        Column("other_segment_id", "text", "segment on the other; empty at a source's outlet"),
        Column("beside", "text", "valves at the same place that can be shut instead"),
        Column(
            "worst_for",
            "text",
            "segment whose shut-off suffers most by it; empty where none does",
        ),
        *losses("more", "then without water beside what must be"),
        Column(
            "expected_properties_count",
            "real",
            "more properties in the mean, by the length of the segments on both sides",
            low=0,
        ),
        Column("rank", "whole", "order: critical users, then properties, then length", low=1),
    ),
    key=("valve_id",),
)
NEW_VALVES = Table(
    "new_valves",
    "where one more valve would help most, each on top of those before it",
    (
        Column("rank", "whole", "order", required=True, low=1),
        Column("pipe_id", "text", "part of a pipe to fit it on, at one end", required=True),
        Column("segment_id", "text", "segment that it parts", required=True),
        Column("beside_pipes", "text", "pipes that meet the end it is fitted at"),
        Column("one_side_m", "real", "length of the part with the pipe's other end", low=0),
        Column("other_side_m", "real", "length of the rest", low=0),
        Column(
            "before_properties_count",
            "real",
            "properties without water for a break anywhere, mean by length, before",
        ),
        Column("after_properties_count", "real", "the same with the valve"),
        Column("gain_share", "real", "by how much that is less", low=0, high=1),
        Column("said", "text", "the same in a sentence"),
        Column("geometry", "geometry", "where", required=True),
    ),
    key=("rank",),
    geometry="Point",
)
VALVE_ACTIONS = ("shut", "keep_shut", "may_stay_open")
PLAN_VALVES = Table(
    "plan_valves",
    "the valves of a plan in the order to take them",
    (
        Column("valve_id", "text", "valve", required=True),
        Column("action", "text", "what to do with it", required=True, choices=VALVE_ACTIONS),
        Column("rank", "whole", "order to shut them in; empty for the others", low=1),
        Column("kind", "text", "what the valve is"),
        Column("diameter_mm", "real", "of the pipe it stands on; empty if not known"),
        Column("pipe_id", "text", "part of a pipe it stands on"),
        Column("cell_id", "text", "zone"),
        Column("beside", "text", "valves at the same place that can be shut instead"),
        Column("said", "text", "why, in a sentence"),
    ),
    key=("valve_id",),
)
AREA_KINDS = ("shut_off", "unintended", "doubtful")
"""`doubtful`: fed only if water passes a check or reducing valve a way it may not pass."""
PLAN_AREAS = Table(
    "plan_areas",
    "what is without water under a plan",
    (
        Column("area_id", "text", "'shut off', or its number", required=True),
        Column("kind", "text", "why", required=True, choices=AREA_KINDS),
        *LOSSES,
        Column("segment_ids", "text", "its segments; of a doubtful one those it lies in"),
        Column("tanks", "text", "tanks on it: water stands there until they are empty"),
        Column("may_feed", "text", "valves that stand shut and would feed it if opened"),
        Column("through", "text", "check or reducing valves it would hang on; empty if none"),
    ),
    key=("area_id",),
)
PLAN_PIPES = Table(
    "plan_pipes",
    "the parts of pipes that are without water under a plan",
    (
        Column("pipe_id", "text", "part of a pipe", required=True),
        Column("segment_id", "text", "segment", required=True),
        Column("area_id", "text", "area of the plan", required=True),
    ),
    key=("pipe_id",),
)
PLAN_USERS = Table(
    "plan_users",
    "connections without water under a plan, critical users first",
    (
        Column("connection_id", "text", "connection", required=True),
        Column("building_id", "text", "building; empty if not told"),
        Column("kind", "text", "why it matters", required=True, choices=USER_KINDS),
        Column("use_class", "text", "class of use"),
        Column("properties", "whole", "properties it serves"),
        Column("area_id", "text", "area of the plan it lies in", required=True),
        Column("also_fed_by", "text", "other connections of its building that keep supply"),
    ),
    key=("connection_id",),
)
PLAN_FAILURES = Table(
    "plan_failures",
    "the plan again, for each valve of it that might not close",
    (
        Column("valve_id", "text", "valve that does not close", required=True),
        Column("also_shut", "text", "valves to shut beside the others, in order"),
        Column("no_longer", "text", "valves of the plan that may then be opened again"),
        Column("sources", "text", "sources to shut beside the others; empty if none"),
        *losses("more", "then without water beside the others"),
        Column("more_users", "text", "critical users among them"),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("valve_id",),
)
PLAN_PRESSURES = Table(
    "plan_pressures",
    "pressure left at the connections that stay fed under a plan, the greatest fall first",
    (
        Column("connection_id", "text", "connection", required=True),
        Column("building_id", "text", "building; empty if not told"),
        Column("kind", "text", "why it matters", required=True, choices=USER_KINDS),
        Column("properties", "whole", "properties it serves"),
        Column("reached", "flag", "whether water still comes there as the valves pass it"),
        *estimated("before_m", "pressure at the hour of most use, as the valves stand now"),
        *estimated("after_m", "pressure at the hour of most use, under the plan"),
        *estimated("change_m", "by how much that is more, a fall below zero"),
    ),
    key=("connection_id",),
)
CASCADE_CAUTION = (
    "Water that runs down through a building meets lifts, fuse boards and ceilings: keep people "
    "from under a wet ceiling, and let nobody touch what is wet and live before a licensed person "
    "has cut the current. Never shut what feeds sprinklers or hoses without those who answer for "
    "fire safety."
)
"""Shown with every table CASCADE."""
CASCADE = Table(
    "cascade",
    "who else a leak at one connection may reach, or goes dry with it, critical users first",
    (
        Column("connection_id", "text", "connection", required=True),
        Column("building_id", "text", "building; empty if not told"),
        Column("kind", "text", "why it matters", required=True, choices=USER_KINDS),
        Column("use_class", "text", "class of use"),
        Column("properties", "whole", "properties it serves"),
        Column("floor", "real", "storey; empty if not told"),
        Column("stopcock", "text", "tap or valve in the building that shuts it off, if told"),
        Column("leaks", "flag", "it is the one that leaks"),
        Column("below", "flag", "in the same building and, as far as is told, below it"),
        Column("below_for_sure", "flag", "below by the storeys told, on the same riser if told"),
        Column("downstream", "flag", "fed through the leaking pipe alone"),
        Column("same_stopcock", "flag", "shut off by the same tap or valve in the building"),
        Column("same_segment", "flag", "shut off by the same valves in the street"),
        Column("said", "text", "the same in words"),
    ),
    key=("connection_id",),
)
LEAK_SEGMENTS = Table(
    "leak_segments",
    "the segments that a leak may lie in, the likeliest first, and what shutting each takes",
    (
        Column("segment_id", "text", "segment", required=True),
        Column("rank", "whole", "order by probability", low=1),
        Column("probability_share", "real", "chance that the leak is in it", low=0, high=1),
        Column("pipes", "text", "pipes of the layer in it, the likeliest first"),
        Column("valves", "text", "valves to shut for it; one of each place"),
        Column("valves_count", "whole", "valves to shut", low=0),
        Column("sources", "text", "sources to shut as well; empty if none"),
        *losses("dry", "without water, the segment included"),
    ),
    key=("segment_id",),
)
VALVE_MAP: tuple[Table, ...] = (SEGMENTS, SEGMENT_PIPES, SEGMENT_LOSSES, VALVE_LOSSES)
"""How a map is parted by its valves, as tables of figures."""
ISOLATE_TABLES: tuple[Table, ...] = (
    SEGMENTS,
    SEGMENT_PIPES,
    SEGMENT_LOSSES,
    VALVE_LOSSES,
    NEW_VALVES,
    PLAN_VALVES,
    PLAN_AREAS,
    PLAN_PIPES,
    PLAN_USERS,
    PLAN_FAILURES,
    PLAN_PRESSURES,
    CASCADE,
    LEAK_SEGMENTS,
)
