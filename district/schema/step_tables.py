"""A step test of one zone by night: what to shut when, and what was read of each section."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

STEP_CAUTION = (
    "A step test takes water from people and from fire hoses: for a licensed crew alone, under the "
    "local rules. Before a valve is turned tell the fire service and all on the list, and ask "
    "again for dialysis at home, sprinklers and process users, whom no map knows for sure; stop if "
    "one of them is found dry. Work in the road and in chambers by night needs its own permits: "
    "traffic, gas and confined space. Turn valves slowly, count the turns, and note any that does "
    "not close. Open each slowly in the order told, all of them, with the same turns: flush before "
    "people draw, as water may come discoloured and a main that stood empty may have drawn dirt in "
    "through the very leak; have quality checked as the local rules say."
)
"""Shown with every plan of a step test."""
STEP_ACTIONS = ("prepare", "read", "step", "reopen")
"""`prepare`: shut so that each section is fed by one valve alone, nobody is dry; `read`: the inflow
before any section is shut; `step`: shut and read; `reopen`: open again."""
STEP_PLAN = Table(
    "step_plan",
    "what to do with which valve, in order of time",
    (
        Column("rank", "whole", "order", required=True, low=1),
        Column("action", "text", "what to do", required=True, choices=STEP_ACTIONS),
        Column("local_time", "text", "when to begin, HH:MM on the district's clock"),
        Column("valve_id", "text", "valve to turn; empty where the inflow is read alone"),
        Column("beside", "text", "valves at the same place that would do instead"),
        Column("diameter_mm", "real", "of the pipe it stands on; empty if not known"),
        Column(
            "section_id", "text", "section that the step shuts, by number; empty for the others"
        ),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("rank",),
)
STEP_PLAN_SECTIONS = Table(
    "step_plan_sections",
    "the sections of a plan in the order they are shut; the last, 0, stays open",
    (
        Column("section_id", "text", "number of its step; 0 for what stays open", required=True),
        Column("valve_id", "text", "valve whose closure shuts it; empty for 0"),
        Column("also_shut", "text", "valves around it that are shut before, to feed it one way"),
        Column("pipes_count", "whole", "parts of pipes", low=0),
        Column("length_m", "real", "length of pipe to listen to if the leak is in it", low=0),
        Column("length_share", "real", "the same as a share of the zone", low=0, high=1),
        Column("connections_count", "whole", "service connections", low=0),
        Column("properties_count", "whole", "properties without water from its step on", low=0),
        Column("dry_h", "real", "how long they are without water; empty for 0", low=0),
        Column("probability_share", "real", "probability that the leak is in it", low=0, high=1),
        *estimated(
            "walk_m", "metres listened along before a leak in it is reached, likeliest first"
        ),
        *estimated("use_l_s", "night use and background leakage expected of it"),
        *estimated("drop_with_l_s", "fall of the inflow to expect if the leak is in it"),
        *estimated("drop_without_l_s", "fall of the inflow to expect if it is not"),
        Column("wrong_share", "real", "chance that its reading tells the wrong of the two"),
        Column("shows", "flag", "whether the limits of the two falls stand apart"),
    ),
    key=("section_id",),
)
STEP_PIPES = Table(
    "step_pipes",
    "the section of each part of a pipe of the zone",
    (
        Column("pipe_id", "text", "part of a pipe", required=True),
        Column("section_id", "text", "section of the plan, 0 for what stays open", required=True),
    ),
    key=("pipe_id",),
)
STEP_USERS = Table(
    "step_users",
    "connections without water during the test: whom to tell",
    (
        Column("connection_id", "text", "connection", required=True),
        Column("building_id", "text", "building; empty if not told"),
        Column("use_class", "text", "class of use"),
        Column("properties", "whole", "properties it serves"),
        Column("section_id", "text", "section of the plan", required=True),
        Column("from_local_time", "text", "when its water goes, HH:MM on the district's clock"),
        Column("until_local_time", "text", "when its valve is open again"),
    ),
    key=("connection_id",),
)
STEP_SECTIONS = Table(
    "step_sections",
    "what was read of each section of a step test, beside what it would use anyway",
    (
        Column("test_id", "text", "the test", required=True),
        Column("section_id", "text", "number of its step; 0 for what stayed open", required=True),
        Column("cell_id", "text", "zone"),
        Column("day", "date", "local date of the test"),
        Column("valve_id", "text", "valve that shut it; empty for 0"),
        Column("length_m", "real", "length of pipe", low=0),
        Column("connections_count", "whole", "service connections", low=0),
        Column("properties_count", "whole", "properties", low=0),
        *estimated("drop_l_s", "fall of the inflow as read; of 0 the flow that was left"),
        *estimated("use_l_s", "night use and background leakage expected of it"),
        *estimated("beyond_l_s", "what it took beyond them, with the rise of pressure allowed for"),
        *estimated("beyond_l_km_h", "the same by length of pipe"),
        *estimated("beyond_l_property_h", "the same by property; empty where there is none"),
        Column("shows", "flag", "whether it took more than its use for sure (95 %)"),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("test_id", "section_id"),
)
STEP_TABLES: tuple[Table, ...] = (
    STEP_PLAN,
    STEP_PLAN_SECTIONS,
    STEP_PIPES,
    STEP_USERS,
    STEP_SECTIONS,
)
