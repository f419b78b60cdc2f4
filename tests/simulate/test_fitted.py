from district.simulate.fitted import chamber_floats, shut_off_valves
from district.simulate.story import BUILDINGS, FLOATS, LEAK_CABLES, SHUT_OFF

NAMES = {name for buildings in BUILDINGS.values() for name, _ in buildings}


def test_a_float_stands_in_the_chamber_nearest_to_the_leak(small):
    valves, pipes = small.devices.valves, small.layout.pipes
    floats = chamber_floats(valves, pipes, small.leaks).set_index("sensor_id")
    assert set(floats.index) == {sensor for sensor, _ in FLOATS}
    leak = small.leaks.geometry["L1"]
    zone = valves["pipe_id"].map(pipes.set_index("pipe_id")["zone_id"])
    own = valves[(zone == "V1") & (valves["kind"] == "isolation")]
    assert floats.geometry["CF-1"].distance(leak) == own.distance(leak).min()


def test_valves_that_shut_by_themselves_stand_at_their_building(small):
    valves = shut_off_valves(small.customers.connections)
    assert list(valves["building_id"]) == [building for _, building, _ in SHUT_OFF]
    at = small.customers.connections.set_index("building_id").geometry
    assert all(at[row.building_id] == row.geometry for row in valves.itertuples())


def test_cables_and_valves_are_in_buildings_of_the_story():
    assert {b for _, b in LEAK_CABLES} | {b for _, b, _ in SHUT_OFF} <= NAMES
