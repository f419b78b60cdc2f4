from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.schema import check
from district.schema.inputs import CORRELATIONS, SIGHTINGS, SURVEYS
from district.simulate.field_records import correlations_table, sightings_table, surveys_table
from district.simulate.field_story import CORRELATED, SEARCHES, SIGHTS
from district.simulate.scenario import Scenario
from district.simulate.simulated import set_out
from district.simulate.sound import at_places, least_way


@pytest.fixture(scope="module")
def surveys(year):
    return surveys_table(year.clock, year.layout, year.devices, year.leaks)


@pytest.fixture(scope="module")
def correlated(year):
    rng = np.random.default_rng(9)
    return correlations_table(year.clock, year.layout, year.true, year.devices, rng)


def test_surveys_walk_past_one_leak_and_find_another(year, surveys):
    table = surveys.assign(date=pd.to_datetime(surveys["date"]))
    assert check(SURVEYS, table, source="surveys")[1] == ()
    assert set(surveys["date"]) == {s.date for s in SEARCHES}
    found = surveys[surveys["found"]]
    assert list(found["pipe_id"]) == [year.leaks["pipe_id"]["L3"]]
    missed = surveys[surveys["date"] == "2025-11-18"]
    assert year.leaks["pipe_id"]["L7"] in set(missed["pipe_id"])
    elsewhere = surveys[surveys["date"] >= "2025-12-01"]
    assert not set(elsewhere["pipe_id"]) & set(year.leaks["pipe_id"])


def test_the_sighting_is_by_a_connection_near_its_leak(year):
    table = sightings_table(year.clock, year.customers, year.devices, year.leaks)
    told = table.assign(time=pd.to_datetime(table["time"]))
    assert check(SIGHTINGS, told, source="sightings")[1] == ()
    assert len(table) == len(SIGHTS)
    places = year.customers.connections.set_index("connection_id").geometry
    near = places[table["place_id"].iloc[-1]].distance(year.leaks.geometry["L6"])
    assert 12 <= near < 60


def test_the_correlation_tells_where_between_its_valves_the_leak_is(year, correlated):
    table = correlated.assign(date=pd.to_datetime(correlated["date"]))
    assert check(CORRELATIONS, table, source="correlations")[1] == ()
    assert len(table) == len(CORRELATED)
    row = correlated.iloc[0]
    valves = year.devices.valves.set_index("valve_id").loc[[row["first_id"], row["other_id"]]]
    length = year.true.model.length_m
    ways = at_places(year.true, length, least_way(year.true, length, year.true.node("L1")), valves)
    assert sum(ways) == pytest.approx(row["length_m"], abs=0.1)
    # l = (L - v TD) / 2 from the nearer sensor (Thornton, Sturm & Kunkel 2008, pp. 271-272); the
    # delay is later at the first, cast iron carries about 1,240 m/s.
    nearer = (row["length_m"] - 1240 * row["delay_ms"] / 1000) / 2
    assert nearer == pytest.approx(ways[1], abs=3)


def test_what_is_outside_the_record_is_not_told():
    scene = set_out(Scenario(first=date(2025, 6, 1), days=2, customers_share=0.05), seed=5)
    assert len(surveys_table(scene.clock, scene.layout, scene.devices, scene.leaks)) == 0
    told = sightings_table(scene.clock, scene.customers, scene.devices, scene.leaks)
    assert list(told.columns) == ["time", "place_id", "what", "note"]
    assert len(told) == 0
