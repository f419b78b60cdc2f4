"""What crews brought back against the map."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest

from district.check.entries import check_form, check_valve_states
from district.results import Inputs
from district.schema.entry_forms import ENTRIES
from district.schema.typed import typed
from district.settings import Settings

Make = Callable[..., Inputs]


def entries(*rows: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(rows).assign(file="entries/a.csv", row=range(2, 2 + len(rows)))
    return typed(frame, ENTRIES)


def valve(place: str, state: str, day: str = "2025-07-14") -> dict[str, Any]:
    return {"record": "valve", "place_id": place, "state": state, "time": f"{day}T10:00Z"}


@pytest.fixture
def form(inputs: Inputs) -> Make:
    from dataclasses import replace

    def made(*rows: dict[str, Any], **records: pd.DataFrame) -> Inputs:
        files = {**inputs.files, "entries": "entries/a.csv", "works": "entries/a.csv"}
        return replace(inputs, entries=entries(*rows), files=files, **records)

    return made


def said(found: Any) -> list[str]:
    return [f.sentence() for f in found]


def test_a_valve_that_is_not_on_the_map(form: Make) -> None:
    (line,) = said(check_form(form(valve("V9", "closes")), settings=Settings()))
    assert line.startswith('entries/a.csv, row of 2025-07-14, column place_id: got "V9", expected')


def test_a_valve_found_otherwise_than_the_map_has_it(form: Make) -> None:
    # V1 stands shut on the map, V2 open.
    rows = (valve("V1", "found_open"), valve("V2", "found_open"), valve("V1", "found_shut"))
    (line,) = said(check_form(form(*rows), settings=Settings()))
    assert line.startswith(
        "entries/a.csv, row 2, column state: got valve V1 found open on 2025-07-14, expected shut, "
        "as valves"
    )


def test_records_of_a_form_are_checked_under_its_name(form: Make) -> None:
    when = pd.Timestamp("2025-07-14", tz="UTC")
    works = pd.DataFrame(
        {"start": [when], "end": [when], "kind": "repair", "place_id": "nowhere", "note": ""}
    )
    (line,) = said(check_form(form(valve("V1", "closes"), works=works), settings=Settings()))
    assert line.startswith('entries/a.csv, row of 2025-07-14, column place_id: got "nowhere"')


def test_a_valve_that_did_not_close_is_told_until_it_does(form: Make) -> None:
    stuck = valve("V2", "does_not_close")
    assert said(check_valve_states(form(stuck), settings=Settings())) == [
        "entries/a.csv, row 2, column state: got valve V2 did not close on 2025-07-14, expected a "
        "valve that can be shut. Have it mended or found, then add a row that says closes; until "
        "then plans of isolation and step tests do without it."
    ]
    mended = valve("V2", "closes", "2025-08-01")
    assert said(check_valve_states(form(stuck, mended), settings=Settings())) == []
    assert said(check_valve_states(form(valve("V9", "not_found")), settings=Settings())) == []
