"""What became of repairs, and the ledger of leaks: one row a leak, and each year of them."""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated
from district.schema.entry_forms import LEAK_KINDS
from district.schema.event_tables import REPAIR_VERDICTS

OUTCOMES = ("crew_back", "too_early", "not_told", "closed")
VERIFICATIONS = Table(
    "verifications",
    "each recorded repair: whether its job is closed or a crew must go back",
    (
        Column("work", "text", "the repair, as recorded", required=True),
        Column("mended_id", "text", "pipe, valve, meter or zone it is recorded at", required=True),
        Column("repaired", "date", "local date it was done", required=True),
        Column("place_id", "text", "zone or meter that tells of it; empty if none"),
        Column("cell_id", "text", "zone it lies in"),
        Column("event_id", "text", "event that it ended or eased; empty if none"),
        *estimated("before_l_s", "rise that ran before the repair"),
        *estimated("drop_l_s", "fall of the night flow across the repair"),
        *estimated("remaining_l_s", "of the rise, still there after it"),
        Column("nights_after_count", "whole", "nights after that it rests on", low=0),
        Column("nights_more_count", "whole", "nights to wait for before it can be told", low=0),
        Column("verdict", "text", "what the night flow says", choices=("", *REPAIR_VERDICTS)),
        Column("outcome", "text", "what becomes of the job", choices=OUTCOMES),
        Column("said", "text", "the same in sentences"),
        Column("sought_ids", "text", "open events that a crew would go back for"),
        Column("go_to", "text", "where to look; empty where no crew need go back"),
        Column("walk_km", "real", "length of that walk; empty where none is known", low=0),
    ),
    key=("work", "repaired"),
)
LEDGER_STATES = ("repaired", "partly", "found", "running", "ended", "recorded")
"""Mended; mended and not gone by the night flow; found and not mended; heard of by meters alone and
still there; gone without a repair on record; a break on record that no repair belongs to."""
LEDGER_KINDS = (*LEAK_KINDS, "not_told")
LEDGER = Table(
    "ledger",
    "leaks found, and those that meters alone told of, the newest first",
    (
        Column("leak_id", "text", "the leak's own id", required=True),
        Column("found", "date", "when a crew stood at it, at the latest as it was mended"),
        Column("place_id", "text", "pipe, device or building's meter; a zone where not found"),
        Column("cell_id", "text", "zone"),
        Column("kind", "text", "what leaked", choices=LEDGER_KINDS),
        Column("state", "text", "how it stands", choices=LEDGER_STATES),
        Column("verdict", "text", "what the night flow says", choices=("", *REPAIR_VERDICTS)),
        Column("event_id", "text", "event it was; empty if the meters told of none"),
        Column("job_ids", "text", "jobs of crews"),
        Column("started", "date", "first night it ran; empty if not known"),
        Column("detected", "date", "night on which the meters told of it"),
        Column("repaired", "date", "date of its last repair"),
        Column("repairs_count", "whole", "repairs on record", low=0),
        Column("awareness_d", "real", "days it ran before anyone knew", low=0),
        Column("location_d", "real", "days from then until it was found; empty if not told", low=0),
        Column("repair_d", "real", "days from then until it was mended; empty if not told", low=0),
        *estimated("run_d", "days it ran"),
        *estimated("before_l_s", "flow before the repair"),
        *estimated("after_l_s", "flow left after it"),
        Column("judged_l_s", "real", "flow as the crew judged it", low=0),
        *estimated("volume_m3", "water lost to date"),
        *estimated("water_currency", "that at the price of water"),
        Column("repair_currency", "real", "cost of the repairs; empty if not stated", low=0),
    ),
    key=("leak_id",),
)
LEDGER_YEARS = Table(
    "ledger_years",
    "each year's leaks: found, mended, how long they ran, what they cost",
    (
        Column("year", "whole", "calendar year", required=True),
        Column("first", "date", "first night of readings in it; empty if none"),
        Column("last", "date", "last night of readings in it"),
        Column("found_count", "whole", "leaks found", low=0),
        Column("repaired_count", "whole", "leaks mended", low=0),
        Column("running_count", "whole", "events of leaks that ran on at its end", low=0),
        Column("timed_count", "whole", "leaks mended whose start is known", low=0),
        Column("located_count", "whole", "of these, with the day they were found", low=0),
        Column("awareness_d", "real", "median days before anyone knew", low=0),
        Column("location_d", "real", "median days until found, where told", low=0),
        Column("repair_d", "real", "median days until mended, where told", low=0),
        Column("run_d", "real", "median days run", low=0),
        *estimated("volume_m3", "water lost in the year to the leaks that meters tell of"),
        *estimated("water_currency", "that at the price of water"),
        Column("repair_currency", "real", "cost of repairs, where stated", low=0),
        Column("costed_count", "whole", "repairs with a stated cost", low=0),
        Column("repairs_count", "whole", "repairs on record", low=0),
        Column("verified_count", "whole", "repairs that the night flow confirms", low=0),
        Column("partly_count", "whole", "repairs after which a flow is left", low=0),
        Column("not_seen_count", "whole", "repairs after which no drop is seen", low=0),
        Column("too_early_count", "whole", "repairs too young to tell", low=0),
        Column("not_told_count", "whole", "repairs of which the meters tell nothing", low=0),
    ),
    key=("year",),
)
LEDGER_GROUPS = Table(
    "ledger_groups",
    "each year's leaks by kind and by zone",
    (
        Column("year", "whole", "calendar year", required=True),
        Column("by", "text", "kind or zone", required=True, choices=("kind", "zone")),
        Column("group", "text", "the kind, or the zone", required=True),
        Column("found_count", "whole", "leaks found", low=0),
        Column("repaired_count", "whole", "leaks mended", low=0),
        *estimated("volume_m3", "water lost in the year"),
        Column("repair_currency", "real", "cost of repairs, where stated", low=0),
    ),
    key=("year", "by", "group"),
)
LEDGER_TABLES: tuple[Table, ...] = (VERIFICATIONS, LEDGER, LEDGER_YEARS, LEDGER_GROUPS)
