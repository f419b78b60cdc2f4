"""The sheet of a step test: one side of A4 with times, valves, what each step should show, and room
for what is read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import jinja2
import pandas as pd
from markupsafe import Markup

from district.files import whole_folder, write_text
from district.render.cut_out import cut_out
from district.render.drawn import as_image
from district.render.sheet import sheet_name
from district.render.tables import as_csv
from district.render.templates import environment, finished, row_dicts, styles
from district.results import Layers
from district.schema.cautions import SHEET_CAUTIONS
from district.schema.entry_forms import ENTRY_FORM, entry_form
from district.words import missing

TURNS = 26
"""Rows of what to turn and read on the sheet."""
USERS = 6
"""Rows of whom to tell: those of most properties; the command names all."""


def write_step_sheet(
    out: Path,
    layers: Layers,
    *,
    test_id: str,
    zone: str,
    district: str,
    plan: pd.DataFrame,
    sections: pd.DataFrame,
    pipes: pd.DataFrame,
    users: pd.DataFrame,
    said: Sequence[str],
    last: date | None,
) -> tuple[Path, Path]:
    """Write the page and the form of a step test into `out`; other files there stay.

    Parameters: tables STEP_PLAN, STEP_PLAN_SECTIONS, STEP_PIPES and STEP_USERS; `said` what to
    expect of it, in sentences; `last` last night of the readings. Raises `OutputError`.
    """
    name = sheet_name(test_id)
    form = entry_form(test_id, steps=_steps(plan), spare_count=0)
    by_section = {str(row["section_id"]): row for row in row_dicts(sections)}
    most = users.sort_values("properties", ascending=False, kind="stable").head(USERS)
    page = _template().render(
        test_id=test_id,
        zone=zone,
        district=district,
        last=last,
        file=name,
        said=said,
        style=styles("sheet.css"),
        cautions=SHEET_CAUTIONS,
        map=Markup(as_image(_map(layers, plan, pipes))),
        turns=[{**row, "section": _section(row, by_section)} for row in row_dicts(plan)[:TURNS]],
        more_turns=max(0, len(plan) - TURNS),
        users=row_dicts(most),
        more_users=max(0, len(users) - USERS),
        properties_count=int(users["properties"].sum()),
    )
    with whole_folder(out) as draft:
        write_text(draft / f"{name}.html", finished(page))
        write_text(draft / f"{name}.csv", as_csv(ENTRY_FORM, form))
    return out / f"{name}.html", out / f"{name}.csv"


@cache
def _template() -> jinja2.Template:
    return environment().get_template("step_sheet.html")


def _steps(plan: pd.DataFrame) -> list[str]:
    return [str(v) for v in plan.loc[plan["action"] == "step", "valve_id"]]


def _section(row: dict[str, Any], by_section: dict[str, dict[str, Any]]) -> dict[str, Any] | None:
    if row["action"] != "step" or missing(row["section_id"]):
        return None
    return by_section.get(str(row["section_id"]))


def _map(layers: Layers, plan: pd.DataFrame, pipes: pd.DataFrame) -> str:
    """The sections that are shut, thick, each with its number once, and the valves turned."""
    section = dict(zip(pipes["pipe_id"], pipes["section_id"].astype(str), strict=True))
    own = layers.pipes.assign(section=layers.pipes["pipe_id"].map(section)).dropna(subset="section")
    own = own[own["section"] != "0"]
    longest = own.groupby("section")["length_m"].idxmax() if len(own) else []
    label = [f"section {s}" if i in set(longest) else "" for i, s in own["section"].items()]
    return cut_out(
        layers,
        lines=gpd.GeoDataFrame({"label": label}, geometry=list(own.geometry)),
        boxed=[str(v) for v in plan["valve_id"] if not missing(v)],
    )
