"""Tables of a plan, and of a map's valves."""

from __future__ import annotations

import pandas as pd
from rich.console import Console
from rich.table import Table

from district.cli.valve_tables import area_table, pressure_table, user_table, valve_table


def text(table: Table) -> str:
    console = Console(width=120, record=True, file=None)
    with console.capture() as held:
        console.print(table)
    return held.get()


def test_valves_come_in_order_with_what_stands_in_for_them() -> None:
    valves = pd.DataFrame(
        {
            "valve_id": ["V2", "V9", "V5"],
            "action": ["shut", "shut", "may_stay_open"],
            "rank": pd.array([1, 2, pd.NA], dtype="Int64"),
            "kind": ["automatic_shutoff", "isolation", "isolation"],
            "diameter_mm": [200.0, float("nan"), 80.0],
            "cell_id": ["Z1", "", "Z1"],
            "beside": ["", "V10", ""],
        }
    )
    shown = text(valve_table(valves, pd.Series({"Z1": "Kiln Lane"})))
    lines = [line.split() for line in shown.splitlines() if "V" in line and "Valve" not in line]
    assert [line[0] for line in lines] == ["1", "2", "may"]
    assert "V9, or V10 beside it" in shown
    assert "Kiln Lane" in shown
    assert "automatic shutoff" in shown


def test_parts_without_water_say_why() -> None:
    areas = pd.DataFrame(
        {
            "area_id": ["shut off", "1", "2"],
            "kind": ["shut_off", "unintended", "doubtful"],
            "length_m": [120.0, 40.0, 10.0],
            "connections_count": [4.0, 2.0, 1.0],
            "properties_count": [6.0, 2.0, 1.0],
            "critical_count": [0.0, 1.0, 0.0],
            "people_count": 4.8,
            "people_count_low": 2.9,
            "people_count_high": 6.7,
            "use_l_s": [0.5, 0.1, 0.01],
            "use_l_s_low": [0.4, 0.05, 0.0],
            "use_l_s_high": [0.6, 0.15, 0.02],
        }
    )
    shown = text(area_table(areas))
    assert "area 1, unintended" in shown
    assert "area 2, in doubt" in shown


def test_only_who_matters_is_named() -> None:
    users = pd.DataFrame(
        {
            "connection_id": ["C1", "C2", "C3"],
            "building_id": ["H1", "", ""],
            "kind": ["medical", "critical", "other"],
            "use_class": ["clinic", "laboratory", "household"],
            "also_fed_by": ["C7", "", ""],
        }
    )
    shown = text(user_table(users))
    assert "medical; C7 stays fed" in shown
    assert "laboratory" in shown
    assert "C3" not in shown


def test_small_falls_of_pressure_are_left_out() -> None:
    some = {"building_id": "", "before_m": 40.0, "before_m_low": 38.0, "before_m_high": 42.0}
    row = some | {"after_m": 35.0, "after_m_low": 33.0, "after_m_high": 37.0}
    falls = pd.DataFrame(
        [
            row
            | {"connection_id": name, "change_m": fall}
            | {"change_m_low": fall - 1, "change_m_high": fall + 0.3}
            for name, fall in (("C1", -5.0), ("C2", -0.4))
        ]
    )
    shown = text(pressure_table(falls))
    assert "C1" in shown
    assert "C2" not in shown
    assert "none" in text(pressure_table(falls[falls["connection_id"] == "C2"]))
