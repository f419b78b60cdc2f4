"""Step tests: valves that must be on the map, flows that must not rise."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.check.wording import (
    file_of,
    filled,
    ids_of,
    local_times,
    row_names,
    shortened,
    unknown_values,
)
from district.errors import Finding
from district.results import Inputs
from district.settings import Settings
from district.words import brief

_READ_SHARE = 0.04
"""Two readings of a flow may lie as far apart by their own errors."""


def check_step_tests(inputs: Inputs, *, settings: Settings) -> list[Finding]:
    """Steps at valves that are not on the map, that rise, come twice or have no start."""
    steps, file = inputs.step_tests, file_of(inputs, "step_tests")
    time = local_times(steps["time"], settings)
    valves = file_of(inputs, "valves")
    unknown = unknown_values(
        steps["valve_id"],
        row_names(time),
        known=ids_of(inputs, "valves"),
        severity="warning",
        source=file,
        noun="row",
        what=f"a valve_id of {valves}",
        remedy="Correct the value; until then its section is counted with the next one",
    )
    found = []
    for test_id, rows in steps.assign(time=time).dropna(subset="time").groupby("test_id"):
        rows = rows.sort_values("time", kind="stable")
        found += _one_test(str(test_id), rows, file)
    return [*unknown, *shortened(found)]


def _one_test(test_id: str, rows: pd.DataFrame, file: str) -> list[Finding]:
    def told(row: Any, column: str, got: str, expected: str, remedy: str) -> Finding:
        place = f"test {test_id}, row of {rows.at[row, 'time']:%Y-%m-%d %H:%M}"
        return Finding("warning", file, place, column, got, expected, remedy)

    found = []
    before = rows["flow_l_s"].shift()
    valve = filled(rows["valve_id"])
    for row in rows.index[rows["flow_l_s"] > before * (1 + _READ_SHARE)]:
        if row in valve.index:
            flow, earlier = brief(rows.at[row, "flow_l_s"]), brief(before[row])
            found.append(
                told(
                    row,
                    "flow_l_s",
                    f"{flow} L/s after {earlier} L/s, though {valve[row]} was shut",
                    "no more than before, once a section is shut",
                    "Check the flow, the order of times, and that the valve closes",
                )
            )
    again = valve.duplicated()
    found += [
        told(
            row,
            "valve_id",
            f"{valve[row]} a second time",
            "each valve once in a test, as it is left shut",
            "Correct the valve, or give the second round a test_id of its own",
        )
        for row in valve.index[again]
    ]
    twice = rows["time"].duplicated()
    found += [
        told(
            row,
            "time",
            "the same time as another step",
            "one flow at a time",
            "Correct one of the two times",
        )
        for row in rows.index[twice]
    ]
    # Valves before it are of the preparation.
    if len(rows) and len(valve) == len(rows):
        found.append(
            told(
                rows.index[0],
                "valve_id",
                f"{valve[rows.index[0]]} as the first step",
                "a row without valve_id first, with the inflow before any section is shut",
                "Add it; until then the first section has no drop",
            )
        )
    return found
