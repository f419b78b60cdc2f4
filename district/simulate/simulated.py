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
from district.simulate.drawn import customer_weights
from district.simulate.field_records import correlations_table, sightings_table, surveys_table
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
from district.simulate.sound import acoustic_readings
from district.simulate.step_test import step_test_table, valves_of_test
from district.simulate.true_model import TrueModel, leak_marks, true_model, true_roughness

_STREAMS = 18


@dataclass(frozen=True, eq=False)
class Simulated:
    """The truth (`clock` to `errors`) and what is reported of it (records and readings)."""

    clock: Clock
    layout: Layout
    devices: Devices
    customers: Customers
    use: Use
    leaks: gpd.GeoDataFrame
    true: TrueModel
    flows: Flows
    daily_m3: pd.DataFrame
    errors: pd.Series
    breaks: pd.DataFrame
    surveys: pd.DataFrame
    step_tests: pd.DataFrame
    correlations: pd.DataFrame
    sightings: pd.DataFrame
    zone_readings: pd.DataFrame
    building_readings: pd.DataFrame
    pressure_readings: pd.DataFrame
    acoustic_readings: pd.DataFrame
    customer_reads: pd.DataFrame
    wet_floor_readings: pd.DataFrame

    def meters(self) -> gpd.GeoDataFrame:
        """Zone, building and customer meters together."""
        return _together(self.devices.meters, self.customers.meters)

    def sensors(self) -> gpd.GeoDataFrame:
        """Pressure loggers, acoustic loggers and wet-floor sensors together."""
        return _together(self.devices.sensors, self.customers.sensors)


def simulate(scenario: Scenario, *, seed: int) -> Simulated:
    """Make the district. Each part draws from its own stream, so none shifts another."""
    stream = [np.random.default_rng([seed, number]) for number in range(_STREAMS)]
    clock = clock_of(scenario)
    layout = lay_out(stream[0])
    devices = place_devices(layout, stream[1])
    customers = place_customers(layout, scenario, stream[2])
    use = draw_use(clock, customers, stream[3])
    hazard = hidden_hazard(layout, stream[4])
    breaks = past_breaks(layout, hazard, stream[5])
    leaks = place_leaks(layout, hazard, stream[6])
    condition = stream[7].uniform(0.8, 2.5, len(ZONE_IDS))
    weights = customer_weights(customers, use, stream[8])
    meters = _together(devices.meters, customers.meters)
    errors = meter_errors(meters, stream[9])
    tested = valves_of_test(layout, devices.valves)
    true = true_model(layout, true_roughness(layout, stream[14]), (*leak_marks(leaks), *tested))
    loggers = devices.sensors[devices.sensors["kind"] == "pressure"]
    daily = customer_daily_m3(clock, use, weights)
    flows = run_flows(
        clock,
        layout,
        true,
        loggers,
        customers,
        use,
        leaks,
        weights=weights,
        condition_factors=dict(zip(ZONE_IDS, condition.tolist(), strict=True)),
        tested=tested,
    )
    return Simulated(
        clock=clock,
        layout=layout,
        devices=devices,
        customers=customers,
        use=use,
        leaks=leaks,
        true=true,
        flows=flows,
        daily_m3=daily,
        errors=errors,
        breaks=breaks,
        surveys=surveys_table(clock, layout, devices, leaks),
        step_tests=step_test_table(clock, flows.meter_l_s, tested, errors, stream[15]),
        correlations=correlations_table(clock, layout, true, devices, leaks, stream[16]),
        sightings=sightings_table(clock, customers, devices, leaks),
        zone_readings=zone_readings(clock, flows, devices.meters, errors, stream[10]),
        building_readings=building_readings(clock, flows, meters, errors, stream[11]),
        pressure_readings=pressure_readings(clock, flows, loggers, stream[12]),
        acoustic_readings=acoustic_readings(
            clock, layout, true, devices.sensors, flows.leaks_l_s, stream[17]
        ),
        customer_reads=customer_reads(customers, daily, errors, stream[13]),
        wet_floor_readings=wet_floor_readings(clock, customers.sensors),
    )


def _together(first: gpd.GeoDataFrame, second: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = list(dict.fromkeys([*first.columns, *second.columns]))
    rows = first.to_dict("records") + second.to_dict("records")
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry="geometry", crs=first.crs)
