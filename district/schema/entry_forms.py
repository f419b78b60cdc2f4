"""The form a crew fills in, one row an observation, and the blank form of one job."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from district.schema.columns import Column, Table
from district.schema.field_records import SIGHTS, SURVEY_METHODS

ENTRY_RECORDS = (
    "repair",
    "nothing_found",
    "leak_found",
    "step",
    "correlation",
    "sighting",
    "valve",
)
LEAK_KINDS = ("main", "joint", "fitting", "service", "indoors")
"""What leaked: the pipe's own wall, a joint, a valve, hydrant or other fitting, the service pipe to
a property, or something behind a building's meter. Common practice, no source."""
VALVE_STATES = ("closes", "does_not_close", "found_shut", "found_open", "not_found")
_NOT_CLOSING = ("does_not_close", "not_found")
_TELL_OF_CLOSING = ("closes", *_NOT_CLOSING)
_FORM = (
    Column(
        "record",
        "text",
        "what the row tells; of a pipe walked nothing_found or leak_found",
        required=True,
        choices=ENTRY_RECORDS,
    ),
    Column("job_id", "text", "job it belongs to; of a step test its test_id"),
    Column("time", "time", "when (local time); of all but steps the date is enough"),
    Column("end", "time", "when a repair was done; the same day if empty"),
    Column(
        "place_id",
        "text",
        "pipe walked or mended, valve turned or shut, first sensor of a correlation, or what a "
        "sighting is next to; empty for the start of a step test",
    ),
    Column("other_id", "text", "second sensor of a correlation"),
    Column("from_m", "real", "metres along the pipe from its western end, from which", low=0),
    Column("to_m", "real", "metres along the pipe from its western end, to which", low=0),
    Column("method", "text", "how it was searched; listening if empty", choices=SURVEY_METHODS),
    Column("leak_kind", "text", "what leaked", choices=LEAK_KINDS),
    Column("size_l_s", "real", "flow of the leak, as the crew judged it", low=0, high=1000),
    Column("cost_currency", "real", "what the repair cost, all told", low=0, high=1e9),
    Column("flow_l_s", "real", "inflow at this step, once settled", low=0),
    Column(
        "delay_ms",
        "real",
        "how much later the noise came to place_id than to other_id",
        low=-5000,
        high=5000,
    ),
    Column("length_m", "real", "laid length between both; along the pipes if empty", low=1),
    Column("state", "text", "how a valve was found", choices=VALVE_STATES),
    Column("what", "text", "what was seen or heard; wet_ground if empty", choices=SIGHTS),
    Column("longitude_deg", "real", "where, instead of a place_id", low=-180, high=180),
    Column("latitude_deg", "real", "where, instead of a place_id", low=-90, high=90),
    Column("crew", "text", "who was there"),
    Column("note", "text", "anything worth knowing"),
)
ENTRY_FORM = Table("entries", "what crews brought back, one row an observation", _FORM)
ENTRIES = Table(
    "entries",
    "what crews brought back, with the file and row it stands in",
    (
        *_FORM,
        Column("file", "text", "file it stands in", required=True),
        Column("row", "whole", "its row there", required=True, low=1),
    ),
)
KNOWN_BEFORE = ("job_id", "place_id", "other_id", "from_m", "to_m", "method", "length_m")
"""Cells that a blank form may hold already: alone they tell nothing."""
SAID_BEFORE = ("repair", "step", "correlation", "sighting", "valve")
"""Records that a blank form may name already; what was found on a walk only the crew can say."""


def entry_form(
    job_id: str,
    *,
    walk: pd.DataFrame | None = None,
    method: str = "",
    steps: Sequence[str] = (),
    correlations: Sequence[tuple[str, str]] = (),
    valves: Sequence[str] = (),
    repairs: Sequence[str] = (),
    spare_count: int = 2,
) -> pd.DataFrame:
    """The blank form of a job (table ENTRY_FORM), all that is known before filled in.

    Parameters: `walk` stretches in the order to walk (columns pipe_id, and from_m, to_m where it is
    a piece) searched by `method`; `steps` valves of a step test in the order to shut them, before
    which comes a row for the inflow at the start; `correlations` pairs of sensor places; `valves`
    to be turned, whose state is asked for; `repairs` places to be mended; `spare_count` rows for a
    repair elsewhere. A row left as it is tells nothing when the form comes back.
    """
    rows: list[dict[str, object]] = []
    if walk is not None:
        for stretch in walk.to_dict("records"):
            place = {"place_id": stretch["pipe_id"], "method": method or None}
            rows.append(place | {n: stretch[n] for n in ("from_m", "to_m") if n in stretch})
    if len(steps):
        rows += [{"record": "step", "place_id": valve} for valve in (None, *steps)]
    rows += [
        {"record": "correlation", "place_id": first, "other_id": other}
        for first, other in correlations
    ]
    rows += [{"record": "valve", "place_id": valve} for valve in valves]
    rows += [{"record": "repair", "place_id": place} for place in repairs]
    rows += [{"record": "repair"}] * spare_count
    named: list[dict[str, object]] = [{**row, "job_id": job_id} for row in rows]
    return pd.DataFrame(named, columns=list(ENTRY_FORM.names()), dtype=object)


def not_closing(entries: pd.DataFrame) -> pd.DataFrame:
    """Of table ENTRIES the latest row of each valve that did not close or was not found.

    One that was turned and closed since is not among them. Of two rows of one time the later in
    its file counts.
    """
    told = entries[(entries["record"] == "valve") & entries["state"].isin(_TELL_OF_CLOSING)]
    ordered = told.sort_values(["time", "file", "row"], kind="stable")
    latest = ordered.drop_duplicates("place_id", keep="last")
    return latest[latest["state"].isin(_NOT_CLOSING)]
