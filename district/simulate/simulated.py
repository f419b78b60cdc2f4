"""One simulated district: everything true about it, and everything its instruments say."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from district.simulate.clock import Clock, clock_of
from district.simulate.customers import Customers, place_customers
from district.simulate.demand import Use, draw_use
from district.simulate.devices import Devices, place_devices
from district.simulate.flows import Flows, run_flows
from district.simulate.layout import Layout, lay_out
from district.simulate.leaks import hidden_hazard, past_breaks, place_leaks
from district.simulate.meters import (
    building_readings,
    meter_errors,
    pressure_readings,
    zone_readings,
)
from district.simulate.rounds import customer_daily_m3, customer_reads, wet_floor_readings
from district.simulate.scenario import ZONE_IDS, Scenario


@dataclass(frozen=True, eq=False)
class Simulated:
    """The truth (`clock` to `errors`) and what is reported of it (`breaks` and the readings)."""

    clock: Clock
    layout: Layout
    devices: Devices
    customers: Customers
    use: Use
    leaks: gpd.GeoDataFrame
    flows: Flows
    daily_m3: pd.DataFrame
    errors: pd.Series
    breaks: pd.DataFrame
    zone_readings: pd.DataFrame
    building_readings: pd.DataFrame
    pressure_readings: pd.DataFrame
    customer_reads: pd.DataFrame
    wet_floor_readings: pd.DataFrame

    def meters(self) -> gpd.GeoDataFrame:
        """Zone, building and customer meters together."""
        return _together(self.devices.meters, self.customers.meters)

    def sensors(self) -> gpd.GeoDataFrame:
        """Pressure loggers and wet-floor sensors together."""
        return _together(self.devices.sensors, self.customers.sensors)


def simulate(scenario: Scenario, *, seed: int) -> Simulated:
    """Make the district. Each part draws from its own stream, so none shifts another."""
    stream = (np.random.default_rng([seed, number]) for number in range(100))
    clock = clock_of(scenario)
    layout = lay_out(next(stream))
    devices = place_devices(layout, next(stream))
    customers = place_customers(layout, scenario, next(stream))
    use = draw_use(clock, customers, next(stream))
    hazard = hidden_hazard(layout, next(stream))
    breaks = past_breaks(layout, hazard, next(stream))
    leaks = place_leaks(layout, hazard, next(stream))
    condition = next(stream).uniform(0.8, 2.5, len(ZONE_IDS))
    flows = run_flows(
        clock,
        layout,
        customers,
        use,
        leaks,
        condition_factors=dict(zip(ZONE_IDS, condition.tolist(), strict=True)),
    )
    daily = customer_daily_m3(clock, customers, use, next(stream))
    meters = _together(devices.meters, customers.meters)
    errors = meter_errors(meters, next(stream))
    return Simulated(
        clock=clock,
        layout=layout,
        devices=devices,
        customers=customers,
        use=use,
        leaks=leaks,
        flows=flows,
        daily_m3=daily,
        errors=errors,
        breaks=breaks,
        zone_readings=zone_readings(clock, flows, devices.meters, errors, next(stream)),
        building_readings=building_readings(clock, flows, meters, errors, next(stream)),
        pressure_readings=pressure_readings(clock, flows, devices.sensors, next(stream)),
        customer_reads=customer_reads(customers, daily, errors, next(stream)),
        wet_floor_readings=wet_floor_readings(clock, customers.sensors),
    )


def _together(first: gpd.GeoDataFrame, second: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = list(dict.fromkeys([*first.columns, *second.columns]))
    rows = first.to_dict("records") + second.to_dict("records")
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry="geometry", crs=first.crs)
