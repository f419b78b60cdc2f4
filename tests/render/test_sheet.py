"""The field sheet: what a crew must find on it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from district.errors import OutputError
from district.render.sheet import LEGS, USERS, VALVES, sheet_name, sheet_page, write_sheets
from district.schema import empty
from district.schema.cautions import SHEET_CAUTIONS
from district.schema.isolate_tables import LEAK_SEGMENTS, PLAN_PRESSURES
from district.schema.outputs import EVENTS
from tests.render.sheets import SCRIPT, job, map_of_job

LAYERS = map_of_job()
TOLD: dict[str, Any] = {"district": "Quernhollow", "currency": "GBP", "last": date(2025, 6, 30)}


def text(page: str) -> str:
    """The page without its marks."""
    bare = re.sub(r"<style>.*?</style>|src=\"[^\"]*\"|<[^>]*>", " ", page, flags=re.DOTALL)
    return " ".join(bare.replace("\xa0", " ").split())


def test_it_says_what_where_what_to_shut_whom_to_tell_and_has_room_for_what_was_found() -> None:
    page = text(sheet_page(job(), LAYERS, name="a", **TOLD))
    for said in (
        "Job E-Z-2025-06-01: Upper row", "readings to 2025-06-30", "1.20 L/s (1.10 to 1.30)",
        "Search 160 m of 900 m of mains: the leak is there with 90 %",
        "Correlator 1, pipe B", "cast iron, PVC", "20.0 ms (17.0 to 23.0)",
        "the segment of pipe B", "V3", "Dry then: 12 properties, 7 connections.",
        "Cut off as well: 3 properties", "If V1 does not close: also shut V9.",
        "falls by 4.1 m (2.9 to 6.2)", "If it is on B (25 %): shut V1, V2; 4 properties dry",
        "Fire service", "H1, Mill Court", "Telephone", "Metres from its western end",
    ):  # fmt: skip
        assert said in page, said


@pytest.mark.parametrize("indoors", [False, True])
@pytest.mark.parametrize("count", [0, 1, 40])
def test_every_sheet_has_all_cautions(indoors: bool, count: int) -> None:
    page = text(sheet_page(job(count, indoors=indoors), LAYERS, name="a", **TOLD))
    assert [c for c in SHEET_CAUTIONS if c not in page] == []
    told = " ".join(SHEET_CAUTIONS).lower()
    for word in ("fire service", "customer", "water quality", "chambers", "traffic", "licensed",
                 "local rules", "digging"):  # fmt: skip
        assert word in told


def test_of_a_flow_in_a_building_its_own_tap_comes_first() -> None:
    page = text(sheet_page(job(indoors=True), LAYERS, name="a", **TOLD))
    assert page.index("Indoors first: cupboard 5 for connection H1") < page.index("V1 isolation")
    assert "Mill Court, Upper row" in page


def test_what_does_not_fit_is_counted() -> None:
    page = text(sheet_page(job(40), LAYERS, name="a", **TOLD))
    assert f"{40 - LEGS} more pieces" in page
    assert f"And {', '.join(f'V{n}' for n in range(VALVES + 1, 41))}." in page
    assert f"And {40 - USERS} more critical users" in page


def test_nobody_runs_dry_and_no_valve_fails_without_a_word() -> None:
    """What the sheet has no room for is told: customers, and valves that might not close."""
    full = job(3)
    plain = full.users.assign(connection_id=["D1", "D2", "D3"], kind="other")
    page = text(
        sheet_page(
            replace(
                full,
                users=pd.concat([full.users, plain], ignore_index=True),
                failures=full.failures.assign(valve_id=["V1", "V2", "V7"]),
                valves=full.valves.assign(action=["shut", "shut", "may_stay_open", "keep_shut"]),
            ),
            LAYERS,
            name="a",
            **TOLD,
        )
    )
    isolate = "district isolate --event E-Z-2025-06-01 --json names all"
    assert f"And 3 more connections without water: {isolate}." in page
    assert "Should V7 not close: district isolate has the plan." in page
    assert "May stay open, as both sides are without water anyway: V3." in page
    assert "valve of the plan; shut only those listed." in page
    few = text(sheet_page(job(1), LAYERS, name="a", **TOLD))
    assert "without water: district isolate" not in few
    assert "has the plan" not in few


def test_an_excess_without_event_and_a_plan_without_more_is_told_too() -> None:
    bare = replace(
        job(1),
        event=empty(EVENTS),
        leak_segments=empty(LEAK_SEGMENTS),
        pressures=empty(PLAN_PRESSURES),
    )
    bare = replace(bare, sets=bare.sets.assign(flow_l_s=0.5, flow_l_s_low=0.4, flow_l_s_high=0.6))
    page = text(sheet_page(bare, LAYERS, name="a", **TOLD))
    assert "Excess night flow without a known start: 0.50 L/s (0.40 to 0.60)" in page
    assert "falls by" not in page


def test_names_are_text_and_nothing_else() -> None:
    page = sheet_page(job(3, name=SCRIPT, indoors=True), LAYERS, name="a", **TOLD)
    assert "<script" not in page


def test_the_same_job_gives_the_same_bytes_and_a_form_beside_it(tmp_path: Path) -> None:
    told = TOLD | {}
    paths = write_sheets([job(), job(3, name="b")], LAYERS, tmp_path / "one", **told)
    again = write_sheets([job(), job(3, name="b")], LAYERS, tmp_path / "two", **told)
    assert [p.name for p in paths] == [
        "E-Z-2025-06-01.html", "E-Z-2025-06-01.csv", "E-Z-2025-06-01b.html", "E-Z-2025-06-01b.csv",
    ]  # fmt: skip
    assert [p.read_bytes() for p in paths] == [p.read_bytes() for p in again]
    form = pd.read_csv(paths[1])
    assert form["place_id"].dropna().tolist() == ["V1", "V2"]
    assert (form["job_id"] == "E-Z-2025-06-01").all()


def test_ids_that_no_file_system_tells_apart_get_sheets_of_their_own(tmp_path: Path) -> None:
    paths = write_sheets([job(name="/"), job(name="_"), job(name=":")], LAYERS, tmp_path, **TOLD)
    assert len(set(paths)) == 6
    assert all(p.exists() for p in paths)
    for page in paths[::2]:  # each page names its own form
        assert f"Enter into {page.stem}.csv" in text(page.read_text(encoding="utf-8"))


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError):
        write_sheets([job()], LAYERS, tmp_path / "taken", **TOLD)


@pytest.mark.parametrize("name", ["..", "", "a/b", "C:\\x", "E-V1"])
def test_names_of_files_stay_in_their_folder(name: str) -> None:
    found = sheet_name(name)
    assert found
    assert Path(found).name == found
    assert set(found) - {"."}
