"""The field sheet of a job: one side of A4 for the van, and the same on a phone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
import pandas as pd
from markupsafe import Markup

from district import words
from district.field_job import FieldJob
from district.files import whole_folder, write_text
from district.render.drawn import as_image
from district.render.sheet_map import map_words, sheet_map
from district.render.tables import as_csv
from district.render.templates import environment, finished, row_dicts, styles
from district.results import Layers
from district.schema.cautions import SHEET_CAUTIONS
from district.schema.entry_forms import ENTRY_FORM
from district.words import missing

LEGS = 7
"""Pieces on a sheet, the first of the walk; the form has all."""
SET_UPS = 2
ROOMY = 16
"""Rows of all tables on a sheet: with more, the map is drawn smaller, so that one side holds it."""
VALVES = 6
USERS = 5
FAILURES = 2
NOTICED_M = 2.0
"""Falls of pressure smaller than this are not told on a sheet: nobody notices them. Assumption."""
OTHER_SEGMENTS = 2
"""Further segments that the leak may lie in, with their valves."""


def sheet_page(
    job: FieldJob,
    layers: Layers,
    *,
    name: str,
    district: str,
    currency: str,
    last: date | None,
) -> str:
    """The page as text of HTML that needs neither network nor script.

    Parameters: `name` of its files, `last` last night of the readings. What does not fit one side
    is counted, and stands whole in the form that goes with it.
    """
    own: dict[str, Any] = {
        "job": job,
        "district": district,
        "currency": currency,
        "last": last,
        "file": name,
        "style": styles("sheet.css"),
        "map": Markup(as_image(sheet_map(job, layers))),
        "map_words": map_words(job),
        "cautions": SHEET_CAUTIONS,
        **_what(job),
        **_walk(job),
        **_shut(job),
    }
    own["full"] = _lines(own) > ROOMY
    return finished(_template().render(**own))


def sheet_name(job_id: str) -> str:
    """The name of a job's files: what of its id every file system takes.

    >>> sheet_name("E-V1-2025-07-09"), sheet_name("Mill Lane/2")
    ('E-V1-2025-07-09', 'Mill_Lane_2')
    """
    return "".join(c if c.isalnum() or c in "-." else "_" for c in job_id).strip(".") or "job"


def write_sheets(
    jobs: Sequence[FieldJob],
    layers: Layers,
    out: Path,
    *,
    district: str,
    currency: str,
    last: date | None,
) -> tuple[Path, ...]:
    """Write a page and a form a job into `out`; other files there stay. Raises `OutputError`."""
    written: list[Path] = []
    taken: Counter[str] = Counter()
    with whole_folder(out) as draft:
        for job in jobs:
            name = sheet_name(job.job_id)
            # Ids may differ in signs alone that no file system takes, or in capitals.
            taken[name.casefold()] += 1
            name += f"_{taken[name.casefold()]}" if taken[name.casefold()] > 1 else ""
            page = sheet_page(
                job, layers, name=name, district=district, currency=currency, last=last
            )
            write_text(draft / f"{name}.html", page)
            write_text(draft / f"{name}.csv", as_csv(ENTRY_FORM, job.form))
            written += [out / f"{name}.html", out / f"{name}.csv"]
    return tuple(written)


@cache
def _template() -> jinja2.Template:
    return environment().get_template("sheet.html")


def _lines(own: dict[str, Any]) -> int:
    return sum(len(own[rows]) for rows in ("legs", "set_ups", "valves", "others", "users"))


def _what(job: FieldJob) -> dict[str, Any]:
    event = row_dicts(job.event)[0] if len(job.event) else None
    return {
        "event": event,
        "indoors": next(iter(row_dicts(job.cascade)), None),
        "sets": row_dicts(job.sets),
        "walk_m": float(job.sets["set_km"].sum()) * 1000 if len(job.sets) else None,
        "mains_m": float(job.sets["mains_km"].iloc[0]) * 1000 if len(job.sets) else None,
        "held": job.sets["held_share"].iloc[0] if len(job.sets) else None,
    }


def _set_up(row: dict[str, Any]) -> dict[str, Any]:
    each = [words.spelled(material) for material in str(row["materials"]).split(", ")]
    return row | {"materials": ", ".join(each)}


def _walk(job: FieldJob) -> dict[str, Any]:
    near = job.set_ups[~job.set_ups["too_far"].astype(bool)]
    return {
        "legs": row_dicts(job.legs.head(LEGS)),
        "more_legs": max(0, len(job.legs) - LEGS),
        "points_count": len(job.points),
        "set_ups": [_set_up(row) for row in row_dicts(near.head(SET_UPS))],
    }


def _shut(job: FieldJob) -> dict[str, Any]:
    shut = job.valves[job.valves["action"] == "shut"]
    kept = job.valves[job.valves["action"] == "keep_shut"]
    critical = job.users[job.users["kind"] != "other"]
    told = row_dicts(critical.head(USERS)) + _reached(job, USERS - len(critical))
    others = job.leak_segments.iloc[1 : 1 + OTHER_SEGMENTS]
    planned = job.failures[~job.failures["said"].map(missing).astype(bool)]
    return {
        "valves": row_dicts(shut.head(VALVES)),
        "more_valves": [str(v) for v in shut["valve_id"].iloc[VALVES:]],
        "kept": [str(v) for v in kept["valve_id"]],
        "idle": [str(v) for v in job.valves["valve_id"][job.valves["action"] == "may_stay_open"]],
        "others": row_dicts(others),
        "users": told,
        "more_users": max(0, len(critical) - USERS),
        "others_dry": _untold(job, told),
        "dry": row_dicts(job.areas),
        "fall": _fall(job.pressures),
        "failures": planned["said"].head(FAILURES).tolist(),
        "more_failures": words.listed(planned["valve_id"].iloc[FAILURES:], shown=VALVES),
    }


def _fall(pressures: pd.DataFrame) -> dict[str, Any] | None:
    """The row of PLAN_PRESSURES with the greatest fall that somebody would notice."""
    low = pressures[pressures["change_m"] <= -NOTICED_M] if len(pressures) else pressures
    return None if low.empty else row_dicts(low.sort_values("change_m", kind="stable"))[0]


def _untold(job: FieldJob, told: list[dict[str, Any]]) -> int:
    """Connections without water that the sheet has no line for, but for critical ones."""
    plain = job.users["connection_id"][job.users["kind"] == "other"]
    return int((~plain.isin([row["connection_id"] for row in told])).sum())


def _reached(job: FieldJob, room: int) -> list[dict[str, Any]]:
    """Who else a leak in a building reaches, where there is room for them."""
    if job.cascade.empty or room <= 0:
        return []
    under = job.cascade[~job.cascade["leaks"].astype(bool)]
    under = under[
        ~under["connection_id"].isin(job.users["connection_id"][job.users["kind"] != "other"])
    ]
    return [row | {"also_fed_by": ""} for row in row_dicts(under.head(room))]
