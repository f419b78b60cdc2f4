import pandas as pd

from district.simulate import simulate
from district.simulate.scenario import Scenario
from district.simulate.simulated import set_out

SHORT = Scenario(days=2, customers_share=0.1)


def test_the_same_seed_gives_the_same_district_and_another_does_not():
    first, again = simulate(SHORT, seed=3), simulate(SHORT, seed=3)
    other = set_out(SHORT, seed=4)
    pd.testing.assert_frame_equal(first.zone_readings, again.zone_readings)
    pd.testing.assert_frame_equal(first.pressure_readings, again.pressure_readings)
    pd.testing.assert_frame_equal(first.customer_reads, again.customer_reads)
    assert not first.layout.pipes.geometry.iloc[60].equals(other.layout.pipes.geometry.iloc[60])


def test_meters_and_sensors_come_together(year):
    assert year.meters()["meter_id"].is_unique
    assert set(year.meters()["role"]) == {"inlet", "transfer", "outlet", "building", "customer"}
    kinds = year.sensors()["kind"].value_counts().to_dict()
    assert kinds == {
        "pressure": 17,
        "acoustic": 6,
        "wet_floor": 4,
        "leak_cable": 2,
        "chamber_float": 2,
    }


def test_every_reading_is_of_a_known_device(autumn):
    known = {*autumn.meters()["meter_id"], *autumn.sensors()["sensor_id"]}
    assert set(autumn.zone_readings["device_id"]) <= known
    assert set(autumn.building_readings.columns) <= known
    assert set(autumn.customer_reads["device_id"]) <= known
    assert set(autumn.pressure_readings["device_id"]) <= known
    assert set(autumn.acoustic_readings["device_id"]) <= known
    assert set(autumn.alarm_readings["device_id"]) <= known
