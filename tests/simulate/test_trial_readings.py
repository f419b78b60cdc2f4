"""What the meters of a trial show."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.results import Reduced
from district.schema.columns import check
from district.schema.stored import (
    DAILY_VOLUMES,
    DEVICE_QUALITY,
    HOURLY_PRESSURES,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import Settings
from district.simulate.trial_map import TrialMap, draw_map
from district.simulate.trial_readings import LOGGER_LIMIT_M, draw_readings
from district.simulate.trial_use import STEPS_A_DAY
from district.simulate.trial_water import Leaks, Water, draw_water

NIGHTS = pd.date_range("2025-03-03", periods=60, freq="D").as_unit("us")


def drawn(
    flow_l_s: float = 5.0, *, off: float = 0.0, **how: Any
) -> tuple[TrialMap, Water, Reduced]:
    rng = np.random.default_rng(4)
    sizes = {"zones_count": 8, "with_pressure": True, "metered_share": 0.4} | how
    plan = draw_map(rng, connections_count=1500, **sizes)
    water = draw_water(rng, plan, settings=Settings(), nights=NIGHTS, leaks=Leaks())
    edge = np.full((len(plan.edges), len(NIGHTS) * STEPS_A_DAY), flow_l_s)
    shown = draw_readings(
        rng,
        plan,
        water,
        edge_l_s=edge,
        off_share=np.full_like(edge, off),
        nights=NIGHTS,
        under_registration=(0.02, 0.0),
    )
    return plan, water, shown


@pytest.mark.parametrize("with_pressure", [True, False])
def test_tables_are_as_the_store_declares_them(with_pressure: bool) -> None:
    _, _, shown = drawn(with_pressure=with_pressure)
    for table, frame in (
        (DEVICE_QUALITY, shown.quality),
        (NIGHT_FLOWS, shown.night_flows),
        (NIGHT_MINIMA, shown.night_minima),
        (DAILY_VOLUMES, shown.daily_volumes),
        (HOURLY_PRESSURES, shown.hourly_pressures),
    ):
        assert list(frame.columns) == list(table.names()), table.name
        _, findings = check(table, frame, source=table.name)
        assert findings == ()


def test_meters_read_within_their_stated_error() -> None:
    plan, _, shown = drawn()
    zone = shown.night_flows[shown.night_flows["device_id"].isin(plan.edges["meter_id"])]
    mean = zone.groupby("device_id")["flow_l_s"].mean() / 5.0 - 1.0
    limit = plan.edges.set_index("meter_id")["error_percent"] / 100
    assert (mean.abs() < 2 * limit.reindex(mean.index)).all()
    assert mean.std() > 0.002


def test_a_fault_reads_its_share_more() -> None:
    plan, _, plain = drawn()
    _, _, wrong = drawn(off=-0.1)
    flows = [t.daily_volumes.set_index(["device_id", "day"])["volume_m3"] for t in (wrong, plain)]
    ratio = (flows[0] / flows[1])[list(plan.edges["meter_id"])]
    assert ratio.to_numpy() == pytest.approx(0.9, abs=0.003)


def test_days_and_nights_of_a_steady_flow_agree() -> None:
    plan, _, shown = drawn()
    days = shown.daily_volumes[shown.daily_volumes["device_id"].isin(plan.edges["meter_id"])]
    both = days.merge(
        shown.night_flows, left_on=["device_id", "day"], right_on=["device_id", "night"]
    )
    assert both["volume_m3"].to_numpy() == pytest.approx(
        both["flow_l_s"].to_numpy() * 86.4, rel=0.01
    )


def test_customers_meters_read_two_percent_low_on_average() -> None:
    plan, water, shown = drawn()
    customers = plan.users.loc[plan.users["role"] == "customer", "meter_id"]
    read = shown.daily_volumes[shown.daily_volumes["device_id"].isin(customers)]["volume_m3"].sum()
    # About 550 meters of 4 % each: their mean is within 0.3 %.
    assert read / water.customer_m3.sum() == pytest.approx(0.98, abs=0.004)


def test_some_nights_are_missing() -> None:
    plan, _, shown = drawn()
    zone = shown.night_flows["device_id"].isin(plan.edges["meter_id"])
    assert 0.5 * len(plan.edges) * 60 < zone.sum() < len(plan.edges) * 60


def test_loggers_show_the_zone_within_the_limit_the_balance_takes() -> None:
    plan, water, shown = drawn()
    night = shown.hourly_pressures[shown.hourly_pressures["hour"].between(2, 3)]
    mean = night.groupby("device_id")["pressure_m"].mean()
    loggers = plan.loggers.set_index("sensor_id").reindex(mean.index)
    at = plan.cells.index.get_indexer(loggers["cell_id"])
    true = water.pressure_m[at][:, :, 2:4].mean(axis=(1, 2))
    lift = loggers["elevation_m"].to_numpy(float) - plan.cells["elevation_m"].to_numpy()[at]
    off = mean.to_numpy() + lift - true
    assert np.abs(off).max() < 1.6 * LOGGER_LIMIT_M
    assert off.std() > 0.3
