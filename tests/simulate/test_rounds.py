import numpy as np
import pytest

from district.simulate.rounds import alarm_readings, customer_daily_m3, customer_reads


@pytest.fixture(scope="module")
def daily(year):
    return customer_daily_m3(year.clock, year.use, year.weights)


@pytest.fixture(scope="module")
def reads(year, daily):
    return customer_reads(year.customers, daily, year.errors, np.random.default_rng(1))


def test_customers_use_adds_up_to_the_zones_every_day(year, daily):
    use = year.use.customer_l_s.sum(axis=1) * 0.9
    by_day = use.groupby(year.clock.day_number).sum()
    np.testing.assert_allclose(daily.sum(axis=1), by_day, rtol=1e-9)


def test_reads_tell_the_use_less_what_the_meters_miss(year, daily, reads):
    first = reads.groupby("device_id").first()
    last = reads.groupby("device_id").last()
    connections = year.customers.connections.dropna(subset="meter_id")
    by_meter = connections.set_index("meter_id")["connection_id"]
    used = 0.0
    for meter in first.index:
        days = daily[by_meter[meter]]
        used += days[first["time"][meter] : last["time"][meter]].iloc[:-1].sum()
    read = (last["value"] - first["value"]).sum()
    assert read / used == pytest.approx(0.98, abs=0.005)


def test_reads_are_about_quarterly_and_uneven(reads):
    counts = reads.groupby("device_id").size()
    assert counts.between(3, 5).all()
    assert (counts == 5).mean() > 0.8
    gaps = reads.groupby("device_id")["time"].diff().dropna().dt.days
    assert gaps.median() == pytest.approx(90, abs=4)
    assert gaps.nunique() > 8
    assert (reads["value"] == reads["value"].round()).all()


def test_a_short_record_still_has_two_reads(small):
    counts = small.customer_reads.groupby("device_id").size()
    assert counts.min() >= 2


def test_alarm_sensors_beat_four_times_a_day_and_tell_the_leak(year):
    beats = alarm_readings(year.clock, year.sensors())
    assert set(beats["value"]) == {0, 1}
    wet = beats[beats["value"] == 1].groupby("device_id")["time"].min()
    assert set(wet.index) == {"WF-2", "WF-3", "WF-4", "LC-1", "CF-1", "CF-2"}
    assert wet["WF-4"].strftime("%Y-%m-%d") == "2025-05-17"
    beating = beats.groupby("device_id").size()
    assert (beating.drop("WF-1") >= 4 * 365).all()
    last = beats.loc[beats["device_id"] == "WF-1", "time"].max()
    assert last.strftime("%Y-%m-%d %H:%M") == "2025-11-20 12:10"


def test_a_loose_contact_gives_many_short_spells(year):
    beats = alarm_readings(year.clock, year.sensors())
    own = beats[beats["device_id"] == "WF-3"].sort_values("time")
    begins = own["value"].diff() == 1
    assert 140 <= begins.sum() <= 160
