import numpy as np
import pandas as pd
import pytest

from district.simulate.meters import meter_errors


def _of(made, meter):
    readings = made.zone_readings
    return readings[readings["device_id"] == meter].set_index("time")["value"]


def test_errors_have_the_stated_limits_and_customers_read_low(whole):
    meters = whole.meters()
    customers = (meters["role"] == "customer").to_numpy()
    drawn = pd.concat([meter_errors(meters, np.random.default_rng(n)) for n in range(20)])
    low = np.tile(customers, 20)
    assert drawn[low].mean() == pytest.approx(0.98, abs=0.002)
    assert drawn[~low].mean() == pytest.approx(1.0, abs=0.002)
    limit = np.tile(meters["error_percent"].to_numpy(dtype=float), 20) / 100
    off = (drawn.to_numpy() - 1 + 0.02 * low) / limit
    assert (np.abs(off) <= 1).mean() == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("meter", ["ZM-T", "ZM-C1", "ZM-C2", "ZM-C3", "ZM-V1", "ZM-V2"])
def test_rates_tell_the_true_flow_but_for_error_noise_and_mishaps(whole, meter):
    seen = _of(whole, meter)
    true = whole.flows.meter_l_s[meter].set_axis(whole.clock.edges()[1:]).loc[seen.index]
    off = seen - whole.errors[meter] * true
    ordinary = off.abs() < 0.1 + 0.05 * true
    assert ordinary.mean() > 0.998
    assert abs(off[ordinary].mean()) < 0.01
    assert np.allclose(seen, seen.round(2))


def test_pulses_add_up_to_the_volume(whole):
    pulses = _of(whole, "ZM-C4")
    assert (pulses == pulses.round()).all()
    true = whole.flows.meter_l_s["ZM-C4"].set_axis(whole.clock.edges()[1:]).loc[pulses.index]
    assert pulses.sum() == pytest.approx(true.sum() * 0.9 * whole.errors["ZM-C4"], abs=3)


def test_the_register_rolls_over_once_and_counts_the_volume(whole):
    register = _of(whole, "ZM-V3")
    assert register.max() < 1e5 + 4001
    step = register.diff()
    assert (step < -90_000).sum() == 1
    passed = register.iloc[-1] - register.iloc[0] + 1e5
    true = whole.flows.meter_l_s["ZM-V3"].sum() * 0.9 * whole.errors["ZM-V3"]
    assert passed == pytest.approx(true, abs=0.02)


def test_the_transfer_meter_loses_18_percent_from_august(whole):
    seen = _of(whole, "ZM-V1V2")
    true = whole.flows.meter_l_s["ZM-V1V2"].set_axis(whole.clock.edges()[1:]).loc[seen.index]
    good = (seen - true).abs() < 0.3
    for period, share in (("2025-02", 1.0), ("2025-11", 0.82)):
        own = good & (seen.index.strftime("%Y-%m") == period)
        slope = (seen[own] * true[own]).sum() / (true[own] ** 2).sum()
        assert slope == pytest.approx(share * whole.errors["ZM-V1V2"], rel=0.01)


def test_there_are_gaps_a_stuck_spell_and_spikes(whole):
    steps = _of(whole, "ZM-V1").index.to_series().diff()
    assert steps.max() > pd.Timedelta(hours=90)
    repeated = _of(whole, "ZM-V2").loc["2025-04-02T12:15Z":"2025-04-03T05:00Z"]
    assert repeated.nunique() == 1
    assert (_of(whole, "ZM-C1") > 50).any()


def test_buildings_count_up_but_for_the_renewed_meter_and_garbled_readings(whole):
    wide = whole.building_readings
    assert wide.shape == (8761, 44)
    falls = (wide.ffill().diff() < 0).sum()
    assert falls["BM12"] >= 1
    assert falls.drop("BM12").sum() <= 8
    meter = "BM20"
    passed = wide[meter].iloc[-1] - wide[meter].iloc[0]
    true = whole.flows.building_l_s[meter].sum() * 0.9 * whole.errors[meter]
    assert passed == pytest.approx(true, abs=0.03)
    assert wide["BM07"].isna().sum() == 70


def test_pressure_is_read_near_the_truth(whole):
    logger = whole.devices.sensors.set_index("sensor_id").loc["PL-10"]
    read = whole.pressure_readings
    read = read[read["device_id"] == "PL-10"].set_index("time")["value"]
    head = whole.flows.head_m["V3"] - logger["feed_share"] * whole.flows.loss_m["V3"]
    off = read - (head - logger["elevation_m"]).loc[read.index]
    assert abs(off.mean()) < 1
    assert off.std() == pytest.approx(0.2, abs=0.03)
    counts = whole.pressure_readings.groupby("device_id").size()
    assert {8760, 35_040} <= set(counts)
