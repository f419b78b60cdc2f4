"""Works and breaks against the layers they name."""

from __future__ import annotations

import pandas as pd

from district.check.wording import EACH, file_of, ids_of, local_times, row_names, unknown_values
from district.errors import Finding
from district.results import Inputs
from district.settings import Settings
from district.words import natural

_PLACES = ("zones", "pipes", "meters", "valves", "connections")
_OF_METERS = ("meter_change", "empty")
"""Works that say something of one meter's readings."""


def check_records(inputs: Inputs, *, settings: Settings) -> list[Finding]:
    """Works at unknown places or that end before they start; breaks on unknown pipes.

    Rows are named by their local date: row numbers would change when the file is sorted.
    """
    works, breaks = inputs.works, inputs.breaks
    start = local_times(works["start"], settings)
    layers = [ids_of(inputs, layer) for layer in _PLACES]
    places = set().union(*(ids for ids in layers if ids is not None))
    works_file = file_of(inputs, "works")
    unknown_places = unknown_values(
        works["place_id"],
        row_names(start),
        known=None if None in layers else places,
        severity="warning",
        source=works_file,
        noun="row",
        what="a zone_id, pipe_id, meter_id, valve_id or connection_id of the layers",
        remedy="Correct the value; until then this work explains no change of flow",
    )
    of_meters = works["kind"].isin(_OF_METERS)
    meters = file_of(inputs, "meters")
    no_meter = unknown_values(
        works["place_id"].where(of_meters & works["place_id"].isin(places)),
        row_names(start),
        known=ids_of(inputs, "meters"),
        severity="warning",
        source=works_file,
        noun="row",
        what=f"a meter_id of {meters}, as the work is {' or '.join(_OF_METERS)}",
        remedy="Name the meter; until then its readings are taken as they stand",
    )
    pipes = file_of(inputs, "pipes")
    unknown_pipes = unknown_values(
        breaks["pipe_id"],
        row_names(breaks["date"]),
        known=ids_of(inputs, "pipes"),
        severity="warning",
        source=file_of(inputs, "breaks"),
        noun="row",
        what=f"a pipe_id of {pipes}",
        remedy="Correct the value; until then this break counts for no pipe",
    )
    ends = _ends(works, start, local_times(works["end"], settings), works_file)
    return [*unknown_places, *no_meter, *ends, *unknown_pipes]


def _ends(works: pd.DataFrame, start: pd.Series, end: pd.Series, source: str) -> list[Finding]:
    backwards = works.index[(end < start).fillna(False)]
    said = {
        f"{start[row]:%Y-%m-%d %H:%M}|{end[row]:%Y-%m-%d %H:%M}|{works.at[row, 'place_id']}"
        for row in backwards
    }
    found = []
    for key in natural(said)[:EACH]:
        began, ended, place = key.split("|", 2)
        found.append(
            Finding(
                "warning",
                source,
                f"row of {began[:10]} at {place}",
                "end",
                got=f"{ended}, before its start {began}",
                expected="a time after the start",
                remedy="Correct one of the two, or leave the end empty for a work of one day",
            )
        )
    rest = len(said) - len(found)
    if rest > 0:
        found.append(
            Finding(
                "warning",
                source,
                column="end",
                got=f"{rest} more ends before their start",
                expected="a time after the start",
                remedy="Correct them",
            )
        )
    return found
