import pytest

from district.schema import check
from district.schema.inputs import CONNECTIONS, METERS, SENSORS
from district.simulate.story import CRITICAL


def test_tables_meet_the_schema(year):
    customers = year.customers
    assert check(CONNECTIONS, customers.connections, source="connections")[1] == ()
    assert check(METERS, customers.meters, source="meters")[1] == ()
    assert check(SENSORS, customers.sensors, source="sensors")[1] == ()


def test_about_a_thousand_connections_beside_their_pipe(year):
    connections = year.customers.connections
    assert 900 <= len(connections) <= 1100
    assert set(connections["use_class"]) == {"household", "commercial", "farm", "campus"}
    pipes = year.layout.pipes.set_index("pipe_id").geometry
    own = connections.geometry.distance(
        pipes.loc[connections["pipe_id"]].set_axis(connections.index)
    )
    assert own.min() > 4
    assert own.max() < 15.1
    outlines = year.layout.zones.set_index("zone_id").geometry
    inside = outlines.loc[connections["zone_id"]].set_axis(connections.index)
    assert inside.contains(connections.geometry).all()


def test_buildings_have_their_own_meters_and_some_customers_none(year):
    connections = year.customers.connections
    campus = connections[connections["use_class"] == "campus"]
    assert 40 <= len(campus) <= 46
    assert campus["meter_id"].notna().all()
    assert (campus["properties"] == 1).all()
    assert set(connections.loc[connections["critical"], "building_id"]) == set(CRITICAL)
    assert 0.01 < connections["meter_id"].isna().mean() < 0.06
    meters = year.customers.meters.set_index("meter_id")
    assert set(meters["role"].loc[campus["meter_id"]]) == {"building"}


def test_a_share_of_customers_makes_a_smaller_district(small, year):
    few = (small.customers.connections["use_class"] != "campus").sum()
    many = (year.customers.connections["use_class"] != "campus").sum()
    assert few / many == pytest.approx(0.2, abs=0.03)
