"""Which leak a step test is planned for, and where it is taken to be."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from district.errors import InputError
from district.schema.entry_forms import ENTRIES
from district.schema.typed import typed
from district.settings import Settings
from district.stepping import (
    cell_of,
    inflow_l_s,
    probability,
    sought_in,
    stuck_in,
    stuck_said,
)
from tests.isolate.towns import town

SETS = pd.DataFrame(
    {
        "sought_id": ["E-1", "E-2", "E-3"],
        "cell_id": ["A", "A", "B"],
        "start": pd.to_datetime(["2025-10-01", "2025-10-03", None]),
        "flow_l_s": [0.3, 0.9, 2.0],
        "flow_l_s_low": [0.2, 0.8, 1.5],
        "flow_l_s_high": [0.4, 1.0, 2.5],
    }
)

NIGHTS = pd.DataFrame(
    {
        "cell_id": ["A"] * 5,
        "night": pd.date_range("2025-10-01", periods=5),
        "inflow_l_s": [1.0, 1.0, 2.0, float("nan"), 2.0],
    }
)


def test_the_largest_leak_of_the_zone_is_planned_for() -> None:
    sought, said = sought_in(SETS, "A", NIGHTS, Settings())
    assert (sought.flow_l_s, sought.flow_l_s_low, sought.night_flow_l_s) == (0.9, 0.8, 2.0)
    assert "E-2 (the largest of several in the zone)" in said
    assert "several" not in sought_in(SETS, "B", NIGHTS, Settings())[1]


def test_less_inflow_than_the_leak_is_a_contradiction_and_told() -> None:
    assert "less than the leak" not in sought_in(SETS, "A", NIGHTS, Settings())[1]
    dry = NIGHTS.assign(inflow_l_s=0.4)
    assert "0.4" in sought_in(SETS, "A", dry, Settings())[1]
    assert "something else feeds it" in sought_in(SETS, "A", dry, Settings())[1]


def test_where_none_is_looked_for_it_says_so() -> None:
    sought, said = sought_in(SETS, "C", NIGHTS, Settings())
    assert sought.flow_l_s == sought.flow_l_s_low == sought.flow_l_s_high == 1.0
    assert said.startswith("No leak is looked for")


def test_probability_is_what_is_looked_for_or_else_the_leak_rate() -> None:
    table = pd.DataFrame(
        {
            "pipe_id": ["P1", "P2", "P3"],
            "cell_id": ["A", "A", "B"],
            "probability_share": [0.25, 0.75, float("nan")],
            "prior_leaks_per_year": [0.1, 0.1, 0.2],
        }
    )
    assert probability(table, "A").to_dict() == {"P1": 0.25, "P2": 0.75}
    assert probability(table, "B").to_dict() == {"P3": 0.2}


def test_the_night_flow_is_that_since_the_leak_began() -> None:
    flow = inflow_l_s(NIGHTS, "A", since=pd.Timestamp("2025-10-03"), nights_count=28)
    assert flow == pytest.approx(2.0)
    assert inflow_l_s(NIGHTS, "A", since=None, nights_count=2) == pytest.approx(2.0)
    assert inflow_l_s(NIGHTS, "A", since=pd.NaT, nights_count=28) == pytest.approx(1.5)
    assert math.isnan(inflow_l_s(NIGHTS, "B", since=None, nights_count=28))


def test_a_zone_goes_by_id_or_name_in_any_case() -> None:
    network = town()
    assert cell_of(network, " SUPPLY s ") == "supply S"
    with pytest.raises(InputError, match="the closest is supply S"):
        cell_of(network, "suply S")


def test_valves_of_the_zone_that_a_crew_found_stuck_are_named() -> None:
    network = town()
    told = [("V7", "does_not_close"), ("V10", "not_found"), ("V3", "closes"), ("V2", "not_found")]
    rows = [
        {"record": "valve", "place_id": v, "state": s, "time": "2025-07-14T10:00Z", "file": "a.csv"}
        for v, s in told
    ]
    entries = typed(pd.DataFrame(rows).assign(row=range(2, 6)), ENTRIES)
    assert stuck_in(network, entries, "supply S") == ["V2", "V7"]
    assert stuck_in(network, entries, "elsewhere") == []
    assert stuck_said(["V2", "V7"]) == ["Taken as not closing, as a crew found: V2 and V7."]
    assert stuck_said([]) == []
