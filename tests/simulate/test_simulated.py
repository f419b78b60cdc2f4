import pandas as pd

from district.simulate import simulate
from district.simulate.scenario import Scenario


def test_the_same_seed_gives_the_same_district_and_another_does_not(small):
    scenario = Scenario(first=small.clock.local[0].date(), days=21, customers_share=0.2)
    again = simulate(scenario, seed=3)
    other = simulate(scenario, seed=4)
    pd.testing.assert_frame_equal(small.zone_readings, again.zone_readings)
    pd.testing.assert_frame_equal(small.customer_reads, again.customer_reads)
    assert not small.layout.pipes.geometry.iloc[60].equals(other.layout.pipes.geometry.iloc[60])


def test_meters_and_sensors_come_together(whole):
    assert whole.meters()["meter_id"].is_unique
    assert set(whole.meters()["role"]) == {"inlet", "transfer", "outlet", "building", "customer"}
    assert whole.sensors()["kind"].value_counts().to_dict() == {"pressure": 10, "wet_floor": 4}


def test_every_reading_is_of_a_known_device(whole):
    known = {*whole.meters()["meter_id"], *whole.sensors()["sensor_id"]}
    assert set(whole.zone_readings["device_id"]) <= known
    assert set(whole.building_readings.columns) <= known
    assert set(whole.customer_reads["device_id"]) <= known
    assert set(whole.pressure_readings["device_id"]) <= known
    assert set(whole.wet_floor_readings["device_id"]) <= known
