"""What crews brought back, form by form, against the layers it names."""

from __future__ import annotations

import pandas as pd

from district.check.field_records import check_field_records
from district.check.records import check_records
from district.check.wording import file_of, filled, ids_of, local_times, row_names, unknown_values
from district.errors import Finding
from district.results import Inputs
from district.schema.entry_forms import ENTRIES, not_closing
from district.settings import Settings
from district.words import day, spelled

_MAP = {"found_shut": "open", "found_open": "shut"}
"""How a valve was found -> how the map has it, where they disagree."""
_SAID = {"does_not_close": "did not close", "not_found": "was not found"}


def check_form(form: Inputs, *, settings: Settings) -> tuple[Finding, ...]:
    """Everything that the rows of one form name and the map lacks, and the valves it tells of.

    `form` holds the layers, and the rows of this form alone for records and entries; `files` name
    it as their file.
    """
    return (
        *check_records(form, settings=settings),
        *check_field_records(form, settings=settings),
        *_valves(form, settings),
    )


def _valves(form: Inputs, settings: Settings) -> list[Finding]:
    rows = form.entries[form.entries["record"] == "valve"]
    source, valves = file_of(form, ENTRIES.name), file_of(form, "valves")
    times = local_times(rows["time"], settings)
    unknown = unknown_values(
        rows["place_id"],
        row_names(times),
        known=ids_of(form, "valves"),
        severity="warning",
        source=source,
        noun="row",
        what=f"a valve_id of {valves}",
        remedy="Correct the value; until then this row counts for no valve",
    )
    mapped = form.valves.drop_duplicates("valve_id").set_index("valve_id")["state"]
    found = []
    for n, row in rows.iterrows():
        valve, state = str(row["place_id"]), str(row["state"])
        on_map = mapped.get(valve)
        if on_map is None or pd.isna(on_map) or on_map != _MAP.get(state):
            continue
        found.append(
            Finding(
                "warning",
                source,
                f"row {row['row']:.0f}",
                "state",
                got=f"valve {valve} {spelled(state)} on {day(times[n].tz_localize(None))}",
                expected=f"{on_map}, as {valves} has it",
                remedy="Find out how it should stand; correct the map or put the valve right, as "
                "zones follow the valves that stand shut on the map",
            )
        )
    return [*unknown, *found]


def check_valve_states(inputs: Inputs, *, settings: Settings) -> tuple[Finding, ...]:
    """Valves that a crew found not to close, or not at all, by the latest row of each."""
    bad = not_closing(inputs.entries)
    bad = bad[bad["place_id"].isin(set(filled(inputs.valves["valve_id"])))]
    times = local_times(bad["time"], settings)
    return tuple(
        Finding(
            "warning",
            str(row["file"]),
            f"row {row['row']:.0f}",
            "state",
            got=f"valve {row['place_id']} {_SAID[str(row['state'])]} "
            f"on {day(times[n].tz_localize(None))}",
            expected="a valve that can be shut",
            remedy="Have it mended or found, then add a row that says closes; until then plans "
            "of isolation and step tests do without it",
        )
        for n, row in bad.iterrows()
    )
