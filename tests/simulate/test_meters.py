import numpy as np
import pandas as pd
import pytest

from district.simulate.meters import (
    OFFSETS_M,
    building_readings,
    meter_errors,
    pressure_readings,
    zone_readings,
)
from district.simulate.story import DEAD_METERS


@pytest.fixture(scope="module")
def passed(year):
    """A year of plausible flows of every meter, L/s: a day's swing and something of its own."""
    rng = np.random.default_rng(5)
    swing = 1.5 + np.sin(2 * np.pi * (year.clock.hour - 9) / 24)

    def flow(mean):
        return mean * swing * rng.uniform(0.9, 1.1, len(swing))

    zone = {m: flow(1.2) for m in year.devices.meters["meter_id"]}
    zone["ZM-V1V2"] = zone["ZM-V1V2"] - 1.0
    own = year.customers.meters.query("role == 'building'")["meter_id"]
    return (
        pd.DataFrame(zone, index=year.clock.utc),
        pd.DataFrame({m: flow(0.05) for m in own}, index=year.clock.utc),
    )


@pytest.fixture(scope="module")
def read(year, passed):
    rng = np.random.default_rng(6)
    return zone_readings(year.clock, passed[0], year.devices.meters, year.errors, rng)


@pytest.fixture(scope="module")
def of(year, passed, read):
    """A meter's readings, and what truly passed in the same intervals."""

    def pick(meter):
        seen = read[read["device_id"] == meter].set_index("time")["value"]
        true = passed[0][meter].set_axis(year.clock.edges()[1:])
        return seen, true.reindex(seen.index)

    return pick


def test_errors_have_the_stated_limits_and_customers_read_low(year):
    meters = year.meters()
    customers = (meters["role"] == "customer").to_numpy()
    drawn = pd.concat([meter_errors(meters, np.random.default_rng(n)) for n in range(20)])
    low = np.tile(customers, 20)
    assert drawn[low].mean() == pytest.approx(0.98, abs=0.002)
    assert drawn[~low].mean() == pytest.approx(1.0, abs=0.002)
    limit = np.tile(meters["error_percent"].to_numpy(dtype=float), 20) / 100
    off = (drawn.to_numpy() - 1 + 0.02 * low) / limit
    assert (np.abs(off) <= 1).mean() == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("meter", ["ZM-T", "ZM-C1", "ZM-C2", "ZM-C3", "ZM-V1", "ZM-V2"])
def test_rates_tell_the_true_flow_but_for_error_noise_and_mishaps(year, of, meter):
    seen, true = of(meter)
    off = seen - year.errors[meter] * true
    ordinary = off.abs() < 0.1 + 0.05 * true
    assert ordinary.mean() > 0.997
    assert abs(off[ordinary].mean()) < 0.01
    assert np.allclose(seen, seen.round(2))


def test_pulses_add_up_to_the_volume(year, of):
    pulses, true = of("ZM-C4")
    assert (pulses == pulses.round()).all()
    assert pulses.sum() == pytest.approx(true.sum() * 0.9 * year.errors["ZM-C4"], abs=3)


def test_the_register_rolls_over_once_and_counts_the_volume(year, of, passed):
    register, _ = of("ZM-V3")
    assert register.max() < 1e5 + 4001
    step = register.diff()
    assert (step < -90_000).sum() == 1
    counted = register.iloc[-1] - register.iloc[0] + 1e5
    true = passed[0]["ZM-V3"].sum() * 0.9 * year.errors["ZM-V3"]
    assert counted == pytest.approx(true, abs=0.02)


def test_the_transfer_meter_loses_18_percent_from_august(year, of):
    seen, true = of("ZM-V1V2")
    for period, share in (("2025-02", 1.0), ("2025-11", 0.82)):
        own = ((seen - true).abs() < 1.5) & (seen.index.strftime("%Y-%m") == period)
        slope = (seen[own] * true[own]).sum() / (true[own] ** 2).sum()
        assert slope == pytest.approx(share * year.errors["ZM-V1V2"], rel=0.01)


def test_there_are_gaps_a_stuck_spell_and_spikes(of):
    steps = of("ZM-V1")[0].index.to_series().diff()
    assert steps.max() > pd.Timedelta(hours=90)
    repeated = of("ZM-V2")[0].loc["2025-04-02T12:15Z":"2025-04-03T05:00Z"]
    assert repeated.nunique() == 1
    assert any((of(meter)[0] > 50).any() for meter in ("ZM-T", "ZM-C1", "ZM-C2", "ZM-C3"))


def test_buildings_count_up_but_for_the_renewed_meter_and_garbled_readings(year, passed):
    wide = building_readings(
        year.clock, passed[1], year.meters(), year.errors, np.random.default_rng(7)
    )
    assert wide.shape == (8761, 44)
    falls = (wide.ffill().diff() < 0).sum()
    assert falls["BM12"] >= 1
    assert falls.drop("BM12").sum() <= 8
    by_building = year.customers.connections.set_index("building_id")["meter_id"]
    dead = [by_building[name] for name, _ in DEAD_METERS]
    assert (wide[dead].iloc[-2000:].diff().iloc[1:] == 0).all(axis=None)
    whole = falls.index[falls == 0].drop(["BM07", *dead])
    counted = wide[whole].iloc[-1] - wide[whole].iloc[0]
    true = passed[1][whole].sum() * 0.9 * year.errors[whole]
    assert (counted - true).abs().max() < 0.03
    assert wide["BM07"].isna().sum() == 70


def test_pressure_is_read_near_the_truth_but_at_one_logger(autumn):
    loggers = autumn.loggers()
    read = autumn.pressure_readings.pivot(index="time", columns="device_id", values="value")
    true = autumn.flows.logger_head_m - loggers.set_index("sensor_id")["elevation_m"]
    off = read - true.loc[read.index]
    assert OFFSETS_M == {"PL-12": 2.5}
    assert off.mean().drop("PL-12").abs().max() < 1
    assert 1.5 < off.mean()["PL-12"] < 3.5
    assert off.std().to_numpy() == pytest.approx(0.104, abs=0.02)  # 0.1 m and rounding to 0.1 m
    counts = autumn.pressure_readings.groupby("device_id").size()
    assert {len(autumn.clock.utc), len(autumn.clock.utc) // 4} == set(counts)


def test_silent_loggers_send_nothing(year):
    level = pd.DataFrame({"PL-03": 250.0}, index=year.clock.utc)
    loggers = year.loggers().query("sensor_id == 'PL-03'")
    read = pressure_readings(year.clock, level, loggers, np.random.default_rng(8))
    assert len(year.clock.utc) - len(read) == 150 * 4
