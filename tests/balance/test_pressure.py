"""Average zone pressure, night-to-day factor, background."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.grids import wide, wide_estimate
from district.balance.pressure import (
    night_day_factor_h_d,
    zone_pressures,
)
from district.settings import Night, Pressure, Settings

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


def test_factor_limits_hold_exponent_pressure_and_course(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    _, _, table = pressures(make_network(), pressure_table(days, BY_HOUR), days)
    factor = wide_estimate(table, "night_day_factor_h_d", CELLS)

    def by(exponent: float = 1.15, shift: float = 0.0, fall: float = 1.0) -> float:
        return float(8 + 16 * ((48 - 10 * fall + shift) / (48 + shift)) ** exponent)

    usual = by()
    # Hand calculation: the exponent's limits, 2 m of one logger, 0.3 of the fall by day.
    low = np.hypot.reduce([usual - by(x) for x in (1.5,)] + [usual - by(shift=-2)] +
                          [usual - by(fall=1.3)])  # fmt: skip
    high = np.hypot.reduce([by(0.5) - usual, by(shift=2) - usual, by(fall=0.7) - usual])
    found = [float(p[0, 0]) for p in factor]
    assert found == pytest.approx([usual, usual - low, usual + high])
    assert [float(p[0, 1]) for p in factor] == [24.0, 18.0, 26.0]


def test_factor_of_fixed_and_variable_areas(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    form = Settings(pressure=Pressure(form="fixed_and_variable_area", leakage_number=1.0))
    _, said, table = pressures(make_network(), pressure_table(days, BY_HOUR), days, form)
    factor = wide_estimate(table, "night_day_factor_h_d", CELLS)
    # Hand calculation: half of the flow at 40 m through fixed, half through variable area.
    night, day = ((p / 40) ** 0.5 + (p / 40) ** 1.5 for p in (48.0, 38.0))
    assert factor.value[:, 0] == pytest.approx(8 + 16 * day / night)
    assert (
        "Leakage varies with pressure as openings of fixed and of variable area do, leakage "
        "number 1 (0 to 100): near 40 m to the power 1 (0.5 to 1.49)." in said
    )


def test_factor_stays_sensible_where_there_is_hardly_pressure(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    _, _, table = pressures(make_network(), pressure_table(days, np.full(24, 3.0)), days)
    factor = wide_estimate(table, "night_day_factor_h_d", CELLS)
    assert [float(p[0, 0]) for p in factor] == pytest.approx([24.0, 24.0, 24.0])


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
