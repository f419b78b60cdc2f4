"""What the store keeps beside readings, to put the parts of a device's record together again."""

from __future__ import annotations

from district.schema.columns import Column, Table

PRESENCE = Table(
    "presence",
    "how many readings of a device the files hold in a bin of the calendar (see `thirds`)",
    (
        Column("device_id", "text", "meter or sensor", required=True),
        Column("bin", "whole", "number of the bin", required=True),
        Column("rows_count", "whole", "rows, those of several files together", low=1),
        Column("first_us", "whole", "earliest time, microseconds since 1970"),
        Column("last_us", "whole", "latest time, microseconds since 1970"),
        Column("mark", "whole", "a mark of what the rows say"),
    ),
    key=("device_id", "bin"),
)
SPELLS = Table(
    "spells",
    "what cleaning saw of a device in one part of its record",
    (
        Column("device_id", "text", "meter or sensor", required=True),
        Column("kind", "text", "kind of meter or sensor"),
        Column("file", "text", "file its readings are in; empty if several"),
        Column("pattern", "text", "patterns of the settings that name its files"),
        Column("first_utc", "time", "first reading"),
        Column("last_utc", "time", "last reading"),
        Column("step_h", "real", "usual interval"),
        Column("steps_count", "whole", "intervals between readings"),
        Column("readings_count", "whole", "rows read"),
        Column("expected_count", "whole", "usual intervals"),
        Column("missing_count", "whole", "of those, without a reading of their own"),
        Column("entries_count", "whole", "intervals or samples kept"),
        Column("gap_count", "whole", "longer intervals"),
        Column("spike_count", "whole", "readings set aside as spikes"),
        Column("stuck_count", "whole", "readings set aside as stuck"),
        Column("reset_count", "whole", "intervals across a reset or new register"),
        Column("negative_count", "whole", "readings set aside as below zero"),
        Column("impossible_count", "whole", "readings set aside as more than can pass"),
        Column("resolution_m3", "real", "smallest volume the device can show"),
        Column("moved_count", "whole", "readings that differ from the one before"),
        Column("falls_count", "whole", "readings below the one before"),
        Column("broken", "real", "the first value that is no whole number"),
        Column("meant_s", "real", "the round interval its steps are nearest to"),
        Column("near_count", "whole", "steps near that"),
        Column("off_s", "real", "by how much these are longer, all together"),
        Column("later_count", "whole", "of these, longer"),
        Column("sooner_count", "whole", "of these, shorter"),
        Column("known_m3", "real", "volume of its usable intervals"),
        Column("known_h", "real", "their length"),
    ),
    key=("device_id",),
)
RATE_DAYS = Table(
    "rate_days",
    "a register and the rate beside it, by local day",
    (
        Column("device_id", "text", "meter", required=True),
        Column("day", "time", "local date, as if it were UTC", required=True),
        Column("register_m3", "real", "by the register"),
        Column("rate_m3", "real", "by the rate"),
        Column("variance_m6", "real", "what the flow does between readings"),
        Column("rounding_m3", "real", "half a step of the rate all along"),
    ),
    key=("device_id", "day"),
)
KEPT: tuple[Table, ...] = (PRESENCE, SPELLS, RATE_DAYS)
