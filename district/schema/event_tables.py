"""What began, what it likely is, what was done about it, and what to tell people each morning."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated
from district.schema.inputs import ALARM_KINDS

CAUSE_KINDS = ("leak", "growing_leak", "meter_fault", "boundary", "use", "unknown")
"""What a change of a zone's night flow may be. A leak has stepped, a growing one still rises."""
EVENT_KINDS = (*CAUSE_KINDS, "building_flow", *ALARM_KINDS)
"""Of a zone one of `CAUSE_KINDS`, of a building's meter `building_flow`, `use`, `meter_fault` or
`unknown`, of a sensor its kind."""
EVENT_STATES = ("open", "repaired", "explained", "ended")
"""`explained`: a recorded work accounts for it; `repaired`: it ended, or sank, with a recorded
repair; `ended`: it went by itself, or nobody recorded why."""
MOVED_KINDS = ("meter_fault", "boundary")
"""What moves water between zones on paper: no water is lost."""
SUPPORTS = ("flow", "alarm", "both")
EVENTS = Table(
    "events",
    "changes of night flow that stayed, and alarms, newest first",
    (
        Column("event_id", "text", "the event's own id", required=True),
        Column("place_kind", "text", "where", choices=("zone", "building", "sensor")),
        Column("place_id", "text", "id of the zone, meter or sensor", required=True),
        Column("cell_id", "text", "zone it lies in"),
        Column("other_cell_id", "text", "zone that changed the opposite way; empty if none"),
        Column("kind", "text", "what it likely is", choices=EVENT_KINDS),
        Column("kind_share", "real", "probability that it is that; empty for sensors"),
        Column("reason", "text", "why it is taken for that"),
        Column("state", "text", "how it stands", choices=EVENT_STATES),
        Column("start", "date", "first night of the change", required=True),
        Column("start_low", "date", "earliest likely first night, as what it is taken for"),
        Column("start_high", "date", "latest likely first night, as what it is taken for"),
        Column("since_first", "date", "earliest likely first night, whether it stepped or grew"),
        Column("since_last", "date", "latest likely first night, whether it stepped or grew"),
        Column("detected", "date", "night on which the test gave the alarm"),
        Column("end", "date", "last night it ran; empty while open"),
        *estimated("run_d", "days it has run"),
        *estimated("size_l_s", "rise of the night flow"),
        *estimated("growth_l_s_d", "growth a day, 0 for a step"),
        *estimated("volume_m3", "volume lost to date"),
        *estimated("cost_currency", "volume at the price of water"),
        Column("support", "text", "what tells of it", choices=SUPPORTS),
        Column("work", "text", "recorded work that explains or ended it; empty if none"),
        Column("rank", "whole", "order to act in; empty where there is nothing to do", low=1),
        Column("act", "flag", "worth acting on now"),
    ),
    key=("event_id",),
)
EVENT_CAUSES = Table(
    "event_causes",
    "how likely each event is a leak or something else, and what speaks for it",
    (
        Column("event_id", "text", "event of a zone or a building", required=True),
        Column("kind", "text", "what it may be", required=True, choices=EVENT_KINDS),
        Column("probability_share", "real", "probability; they sum to 1 over an event"),
        Column("reason", "text", "what speaks for or against it"),
    ),
    key=("event_id", "kind"),
)
REPAIR_VERDICTS = ("verified", "partly", "another_leak", "not_seen", "too_early")
REPAIR_CHECKS = Table(
    "repair_checks",
    "what each recorded repair did to the night flow of its zone or building",
    (
        Column("place_id", "text", "zone or meter", required=True),
        Column("event_id", "text", "event that it ended or eased; empty if none"),
        Column("work", "text", "the repair, as recorded", required=True),
        Column("mended_id", "text", "pipe, valve, meter or zone it is recorded at"),
        Column("repaired", "date", "local date it was done", required=True),
        Column("nights_before_count", "whole", "nights before that it rests on", low=0),
        Column("nights_after_count", "whole", "nights after", low=0),
        Column("nights_more_count", "whole", "nights to wait for before it can be told", low=0),
        *estimated("before_l_s", "rise that ran before the repair"),
        *estimated("drop_l_s", "fall of the night flow across the repair"),
        *estimated("remaining_l_s", "of the rise, still there after it"),
        Column("verdict", "text", "whether it worked", choices=REPAIR_VERDICTS),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("place_id", "work", "repaired"),
)
STILL_VERDICTS = (
    "still",
    "constant_flow",
    "empty_flow",
    "below_resolution",
    "dead",
    "stuck",
    "too_few",
)
"""`empty_flow`: water passes while nobody is there, though not without a stop; `below_resolution`:
a flow worth knowing of could hide between two steps of the register; `dead`: it shows nothing,
unlike before; `stuck`: it shows one flow."""
BUILDING_CHECKS = Table(
    "building_checks",
    "whether each building's meter ever stands still, or water runs there without an end",
    (
        Column("device_id", "text", "meter", required=True),
        Column("building_id", "text", "building it serves; empty if not told"),
        Column("cell_id", "text", "zone"),
        Column("rests_on", "text", "intervals or two readings, and over which empty time"),
        Column("first", "date", "first day judged"),
        Column("last", "date", "last day judged"),
        Column("days_count", "whole", "days judged", low=0),
        *estimated("constant_l_s", "flow that never stops, within what the meter can show"),
        Column("since", "date", "first day of the present flow, or of a dead meter"),
        *estimated("run_d", "days it has run without a break"),
        *estimated("volume_m3", "volume of the constant flow since then"),
        *estimated("cost_currency_year", "what it costs a year at the price of water"),
        Column("smallest_l_s", "real", "least constant flow that this meter could show", low=0),
        Column("verdict", "text", "what the meter does", choices=STILL_VERDICTS),
        Column("said", "text", "the same in a sentence, its size in words"),
        Column("act", "flag", "worth a visit"),
    ),
    key=("device_id",),
)
SENSOR_VERDICTS = ("sound", "flapping", "always_on", "silent")
SENSOR_CHECKS = Table(
    "sensor_checks",
    "whether the sensors that give alarms can be believed",
    (
        Column("sensor_id", "text", "sensor", required=True),
        Column("kind", "text", "what it senses", choices=ALARM_KINDS),
        Column("building_id", "text", "building it stands in; empty if none"),
        Column("cell_id", "text", "zone"),
        Column("spells_count", "whole", "alarms, each from its first wet reading to its last"),
        Column("alarm_h", "real", "hours in alarm", low=0),
        Column("last_reading", "date", "last day it was read"),
        Column("verdict", "text", "how it behaves", choices=SENSOR_VERDICTS),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("sensor_id",),
)
SHUTOFF_CAUTION = (
    "Never on a pipe that feeds fire hoses, hydrants or sprinklers; on medical or process users "
    "only with their agreement. Settle first what the valve does without power, who may open it "
    "again and how people are told. Local code and a licensed person decide whether, where and how "
    "it is fitted and set; what is advised here comes from past flows alone."
)
"""Shown with everything that is said of valves that shut by themselves."""
SHUTOFF_SETTINGS = Table(
    "shutoff_settings",
    "for each building with or without a valve that shuts by itself: when it should trip",
    (
        Column("device_id", "text", "meter that would drive the valve", required=True),
        Column("building_id", "text", "building; empty if not told"),
        Column("valve_id", "text", "valve that shuts by itself; empty where it could have one"),
        Column("first", "date", "first day replayed"),
        Column("last", "date", "last day replayed"),
        Column("days_count", "whole", "days replayed", low=0),
        Column("trip_l_s", "real", "advised flow to trip at; empty where none is advised", low=0),
        Column("trip_h", "real", "advised time above it before it trips", low=0),
        *estimated("false_trips_per_year", "trips a year when nothing leaks"),
        Column("leaks_count", "whole", "past leaks that it was held against", low=0),
        *estimated("leaked_m3", "volume that they lost"),
        *estimated("leaked_with_m3", "volume they would have lost with the valve"),
        Column("advice", "text", "what to set, or why nothing is advised"),
        Column("cautions", "text", "what must be settled first"),
    ),
    key=("device_id",),
)
SHUTOFF_CURVE = Table(
    "shutoff_curve",
    "false trips against litres saved, by setting: those that no other setting betters",
    (
        Column("device_id", "text", "meter that would drive the valve", required=True),
        Column("trip_l_s", "real", "flow to trip at", required=True, low=0),
        Column("trip_h", "real", "time above it before it trips", required=True, low=0),
        *estimated("false_trips_per_year", "trips a year when nothing leaks"),
        *estimated("leaked_with_m3", "volume the past leaks would have lost"),
        Column("advised", "flag", "whether it is the one advised"),
    ),
    key=("device_id", "trip_l_s", "trip_h"),
)
MORNING_WORDS = {
    "new": "new",
    "changed": "changed",
    "closed": "closed",
    "withdrawn": "withdrawn",
    "standing": "still open",
}
ALARMS_OF = ("event", "building", "sensor", "repair", "device")
MORNING = Table(
    "morning",
    "what to know this morning, the most urgent first",
    (
        Column("alarm_id", "text", "its own id, kept from one morning to the next", required=True),
        Column("news", "text", "against the data before", choices=tuple(MORNING_WORDS)),
        Column("about", "text", "what it is about", choices=ALARMS_OF),
        Column("place_id", "text", "id of the zone, meter or sensor", required=True),
        Column("place", "text", "what people call it"),
        Column("cell_id", "text", "zone it lies in"),
        Column("kind", "text", "kind of event, or verdict on a meter, sensor or repair"),
        Column("kind_share", "real", "probability that it is that; empty where none is told"),
        Column("state", "text", "how it stands"),
        Column("start", "date", "since when"),
        Column("start_low", "date", "at the earliest"),
        Column("start_high", "date", "at the latest"),
        *estimated("size_l_s", "flow"),
        *estimated("volume_m3", "volume to date"),
        *estimated("cost_currency", "volume at the price of water"),
        Column("headline", "text", "one sentence"),
        Column("reason", "text", "why it is taken for that, and what changed since the day before"),
        Column("rank", "whole", "order to act in; empty where there is nothing to do", low=1),
        Column("act", "flag", "worth acting on now"),
        Column("first_told", "date", "last night of the data with which it was first told"),
        Column("updated", "date", "last night of the data with which it last changed"),
        Column("updated_utc", "time", "last reading of that data; later where data came twice"),
    ),
    key=("alarm_id",),
)
WATCHED = Table(
    "watched",
    "places that can have an alarm",
    (
        Column("place_kind", "text", "what", required=True, choices=("zone", "meter", "sensor")),
        Column("place_id", "text", "id of the zone, meter or sensor", required=True),
        Column("place", "text", "what people call it"),
        Column("cell_id", "text", "zone it lies in; of a zone's meter the one it feeds"),
        Column("blinds", "text", "zones that have no balance without this meter; empty if none"),
        Column("judged", "flag", "whether there are readings to judge it by"),
    ),
    key=("place_kind", "place_id"),
)
TOLD = Table(
    "told",
    "what was told of each alarm, those that are over too, so that none is told twice",
    (
        *(c for c in MORNING.columns if c.name != "news"),
        Column("match", "text", "its place and family: what an alarm of today is known by"),
        Column("end", "date", "last night it ran; empty while open"),
        Column("over", "flag", "whether it is over"),
        Column("told_kind", "text", "its kind when it was last news"),
        Column("told_state", "text", "its state when it was last news"),
        *estimated("told_size_l_s", "its flow when it was last news"),
    ),
    key=("alarm_id",),
)
"""Kept beside the readings; see `district.watch`."""
EVENT_TABLES: tuple[Table, ...] = (
    EVENT_CAUSES,
    REPAIR_CHECKS,
    BUILDING_CHECKS,
    SENSOR_CHECKS,
    SHUTOFF_SETTINGS,
    SHUTOFF_CURVE,
)
"""Beside EVENTS; MORNING has files of its own."""
