"""Average zone pressure, night-to-day factor, background."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.grids import wide, wide_estimate
from district.balance.limits import Estimate
from district.balance.pressure import (
    background_limits,
    night_day_factor_h_d,
    power_law,
    zone_pressures,
)
from district.settings import Background, Night, Settings

CELLS = pd.Index(["North", "South"], dtype=object)
BY_HOUR = np.array([50.0] * 6 + [40.0] * 16 + [50.0] * 2)


def pressures(network: Any, hourly: pd.DataFrame, days: Any, settings: Any = None) -> Any:
    table, said = zone_pressures(
        network, hourly, settings=settings or Settings(), cells=CELLS, days=days
    )
    return {name: wide(table, name, CELLS) for name in table.columns[2:]}, said, table


@pytest.fixture
def days(nights: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return nights[:3].as_unit("us")


def test_logger_is_carried_to_the_connections_mean_level(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    # Gauge at 8 m, connections at 10 m: zone average 2 m below the gauge.
    found, said, _ = pressures(make_network(), pressure_table(days, BY_HOUR), days)
    assert found["night_pressure_m"][:, 0] == pytest.approx(48.0)
    assert found["pressure_m"][:, 0] == pytest.approx((8 * 48 + 16 * 38) / 24)
    assert set(found["rests_on"][:, 0]) == {"logger"}
    assert set(found["spread_m"][:, 0]) == {2.0}
    assert "No pressure logger in South: 40 m ±10 m is assumed." in said


def test_without_levels_the_gauge_itself_is_used(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    plain = make_network()
    network = make_network(cells=plain.cells.assign(elevation_m=np.nan))
    found, said, _ = pressures(network, pressure_table(days, BY_HOUR), days)
    assert found["night_pressure_m"][:, 0] == pytest.approx(50.0)
    assert set(found["spread_m"][:, 0]) == {5.0}
    assert any("unknown in North" in s for s in said)


def test_a_logger_without_level_does_not_blur_one_with(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    plain = make_network()
    second = plain.sensors.rename(index={"G1": "G2"}).assign(elevation_m=np.nan)
    network = make_network(sensors=pd.concat([plain.sensors, second]))
    hourly = pd.concat([pressure_table(days, 50.0), pressure_table(days, 99.0, "G2")])
    found, _, _ = pressures(network, hourly, days)
    assert found["night_pressure_m"][:, 0] == pytest.approx(48.0)


def test_two_loggers_are_averaged(make_network: Any, pressure_table: Any, days: Any) -> None:
    plain = make_network()
    second = plain.sensors.rename(index={"G1": "G2"}).assign(elevation_m=20.0)
    network = make_network(sensors=pd.concat([plain.sensors, second]))
    hourly = pd.concat([pressure_table(days, 50.0), pressure_table(days, 40.0, "G2")])
    found, _, _ = pressures(network, hourly, days)
    assert found["night_pressure_m"][:, 0] == pytest.approx((48.0 + 50.0) / 2)


def test_only_pressure_loggers_count(make_network: Any, pressure_table: Any, days: Any) -> None:
    plain = make_network()
    network = make_network(sensors=plain.sensors.assign(kind="acoustic"))
    found, _, _ = pressures(network, pressure_table(days, 50.0), days)
    assert set(found["rests_on"][:, 0]) == {"assumed"}


def test_night_pressure_follows_the_window(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    night = Night(start="05:30", end="07:15", search_start="05:00", search_end="08:00")
    found, _, _ = pressures(
        make_network(), pressure_table(days, BY_HOUR), days, Settings(night=night)
    )
    # Hours 5 (50 m), 6 and 7 (40 m), less 2 m of level.
    assert found["night_pressure_m"][:, 0] == pytest.approx((48 + 38 + 38) / 3)


def test_factor_limits_come_from_the_exponents(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    _, _, table = pressures(make_network(), pressure_table(days, BY_HOUR), days)
    factor = wide_estimate(table, "night_day_factor_h_d", CELLS)
    for part, exponent in zip(factor, (1.15, 1.5, 0.5), strict=True):
        assert part[:, 0] == pytest.approx(8 + 16 * (38 / 48) ** exponent)
    assert [float(p[0, 1]) for p in factor] == [24.0, 18.0, 26.0]


def test_a_day_without_pressure_takes_the_record_s_median(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    hourly = pressure_table(days[[0, 2]], BY_HOUR)
    found, _, _ = pressures(make_network(), hourly, days)
    assert found["night_pressure_m"][:, 0] == pytest.approx([48.0, 48.0, 48.0])
    assert np.ptp(found["night_day_factor_h_d"][:, 0]) == pytest.approx(0.0)


def test_a_short_day_is_scaled_and_a_broken_one_not_guessed() -> None:
    hourly = np.full(24, 40.0)
    hourly[2] = np.nan  # the hour the clocks skip
    assert night_day_factor_h_d(hourly, night_pressure_m=40.0, exponent=1.0) == 24.0
    hourly[:5] = np.nan
    assert np.isnan(night_day_factor_h_d(hourly, night_pressure_m=40.0, exponent=1.0))
    assert np.isnan(night_day_factor_h_d(np.zeros(24), night_pressure_m=0.0, exponent=1.0))


def test_pressure_below_zero_counts_as_zero() -> None:
    assert power_law(1.0, pressure_m=-5.0, exponent=0.5) == 0.0


def test_background_limits_hold_the_condition_and_the_pressure(make_network: Any) -> None:
    sure = Estimate(*(np.array([50.0, 50.0]) for _ in range(3)))
    found = background_limits(make_network(), cells=CELLS, pressure=sure, background=Background())
    # North: 20 x 4 km + 1.25 x 4 + 33 x 0.2 km = 91.6 L/h at 50 m, times 1.5 (0.7 to 3).
    for part, factor in zip(found, (1.5, 0.7, 3.0), strict=True):
        assert part[0] * 3600 == pytest.approx(91.6 * factor)
    unsure = Estimate(np.array([50.0, 50.0]), np.array([40.0] * 2), np.array([60.0] * 2))
    wider = background_limits(make_network(), cells=CELLS, pressure=unsure, background=Background())
    assert (wider.low < found.low).all()
    assert (wider.high > found.high).all()
