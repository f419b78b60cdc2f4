"""The sheet of a step test: what a crew must find on it, and the form beside it."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from district.network import map_layers
from district.render.step_sheet import TURNS, USERS, write_step_sheet
from district.schema.cautions import SHEET_CAUTIONS
from tests.cli.stepped import stepped
from tests.render.sheets import SCRIPT

MADE = stepped()


def written(folder: Path, **other: Any) -> tuple[str, pd.DataFrame, str]:
    """The page without its marks, the form, and the page as it is."""
    told = {
        "test_id": "ST-Z-1", "zone": "Kiln Lane", "district": "Quernhollow",
        "plan": MADE.plan.plan, "sections": MADE.plan.sections, "pipes": MADE.plan.pipes,
        "users": MADE.plan.users, "said": MADE.plan.said[:1], "last": date(2025, 12, 31),
    } | other  # fmt: skip
    page, form = write_step_sheet(folder, map_layers(MADE.network), **told)
    whole = page.read_text(encoding="utf-8")
    bare = re.sub(r"<style>.*?</style>|src=\"[^\"]*\"|<[^>]*>", " ", whole, flags=re.DOTALL)
    return " ".join(bare.replace("\xa0", " ").split()), pd.read_csv(form), whole


def test_times_valves_what_to_expect_whom_to_tell_and_all_cautions(tmp_path: Path) -> None:
    page, _, _ = written(tmp_path)
    steps = MADE.plan.plan[MADE.plan.plan["action"] == "step"]
    for row in steps.itertuples():
        assert f"{row.local_time} shut, read {row.valve_id}" in page
    assert page.count("section 1)") == 1
    assert "Inflow read, L/s" in page
    assert "Fire service" in page
    assert [c for c in SHEET_CAUTIONS if c not in page] == []


def test_the_form_asks_for_the_start_and_each_step_in_order(tmp_path: Path) -> None:
    _, form, _ = written(tmp_path)
    steps = MADE.plan.plan.loc[MADE.plan.plan["action"] == "step", "valve_id"].tolist()
    assert (form["record"] == "step").all()
    assert form["place_id"].fillna("").tolist() == ["", *steps]
    assert (form["job_id"] == "ST-Z-1").all()


def test_what_does_not_fit_is_counted_and_names_are_text(tmp_path: Path) -> None:
    users = pd.concat([MADE.plan.users] * 12, ignore_index=True)
    users["connection_id"] = SCRIPT
    plan = pd.concat([MADE.plan.plan] * 9, ignore_index=True)
    plan["valve_id"] = SCRIPT
    page, _, whole = written(tmp_path, users=users, plan=plan, zone=SCRIPT)
    assert f"And {len(users) - USERS} more connections" in page
    assert f"And {len(plan) - TURNS} more row" in page
    assert "<script" not in whole
