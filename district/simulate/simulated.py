"""One simulated district: everything true about it, and everything its instruments say."""

from __future__ import annotations

from dataclasses import dataclass, fields

import geopandas as gpd
import numpy as np
import pandas as pd

from district.simulate.clock import Clock, clock_of
from district.simulate.customers import Customers, place_customers
from district.simulate.demand import Use, draw_use
from district.simulate.devices import Devices, place_devices
from district.simulate.draws import customer_weights
from district.simulate.field_records import correlations_table, sightings_table, surveys_table
from district.simulate.fitted import chamber_floats, shut_off_valves
from district.simulate.flows import Flows, run_flows
from district.simulate.layout import Layout, lay_out
from district.simulate.leaks import hidden_hazard, past_breaks, place_leaks
from district.simulate.meters import (
    building_readings,
    meter_errors,
    pressure_readings,
    zone_readings,
)
from district.simulate.rounds import alarm_readings, customer_daily_m3, customer_reads
from district.simulate.scenario import ZONE_IDS, Scenario
from district.simulate.sound import acoustic_readings
from district.simulate.step_test import step_test_table, valves_of_test
from district.simulate.true_model import Mark, TrueModel, leak_marks, true_model, true_roughness

_STREAMS = 18


@dataclass(frozen=True, eq=False)
class Scene:
    """All that is drawn before the water runs.

    weights
        of each connection in the use of its zone and class (`draws.customer_weights`).
    condition
        times the published background leakage, by zone.
    errors
        what each meter reads of a true litre.
    tested
        valves of the step test in the order they are shut.
    """

    clock: Clock
    layout: Layout
    devices: Devices
    customers: Customers
    use: Use
    weights: dict[tuple[str, str], pd.DataFrame]
    leaks: gpd.GeoDataFrame
    condition: dict[str, float]
    tested: tuple[Mark, ...]
    true: TrueModel
    errors: pd.Series
    breaks: pd.DataFrame

    def meters(self) -> gpd.GeoDataFrame:
        """Zone, building and customer meters together."""
        return _together(self.devices.meters, self.customers.meters)

    def sensors(self) -> gpd.GeoDataFrame:
        """Pressure and acoustic loggers, wet floors, leak cables and chamber floats together."""
        floats = chamber_floats(self.devices.valves, self.layout.pipes, self.leaks)
        return _together(_together(self.devices.sensors, self.customers.sensors), floats)

    def valves(self) -> gpd.GeoDataFrame:
        """Valves on the mains, and those of buildings that shut by themselves."""
        return _together(self.devices.valves, shut_off_valves(self.customers.connections))

    def loggers(self) -> gpd.GeoDataFrame:
        """The pressure loggers."""
        return self.devices.sensors[self.devices.sensors["kind"] == "pressure"]


@dataclass(frozen=True, eq=False)
class Simulated(Scene):
    """A scene, its water, and what is reported: records of the field and readings."""

    flows: Flows
    daily_m3: pd.DataFrame
    surveys: pd.DataFrame
    step_tests: pd.DataFrame
    correlations: pd.DataFrame
    sightings: pd.DataFrame
    zone_readings: pd.DataFrame
    building_readings: pd.DataFrame
    pressure_readings: pd.DataFrame
    acoustic_readings: pd.DataFrame
    customer_reads: pd.DataFrame
    alarm_readings: pd.DataFrame


def set_out(scenario: Scenario, *, seed: int) -> Scene:
    """Draw the district, its use, leaks and meters. Each part draws from its own stream, so none
    shifts another."""
    stream = _streams(seed)
    clock = clock_of(scenario)
    layout = lay_out(stream[0])
    devices = place_devices(layout, stream[1])
    customers = place_customers(layout, scenario, stream[2])
    use = draw_use(clock, customers, stream[3])
    hazard = hidden_hazard(layout, stream[4])
    breaks = past_breaks(layout, hazard, stream[5])
    leaks = place_leaks(layout, hazard, stream[6])
    condition = stream[7].uniform(0.8, 2.5, len(ZONE_IDS))
    tested = valves_of_test(layout, devices.valves)
    return Scene(
        clock=clock,
        layout=layout,
        devices=devices,
        customers=customers,
        use=use,
        weights=customer_weights(customers, use, stream[8]),
        leaks=leaks,
        condition=dict(zip(ZONE_IDS, condition.tolist(), strict=True)),
        tested=tested,
        true=true_model(layout, true_roughness(layout, stream[14]), (*leak_marks(leaks), *tested)),
        errors=meter_errors(_together(devices.meters, customers.meters), stream[9]),
        breaks=breaks,
    )


def simulate(scenario: Scenario, *, seed: int) -> Simulated:
    """Make the district: the same from the same seed."""
    scene = set_out(scenario, seed=seed)
    stream = _streams(seed)
    clock, layout, devices, leaks = scene.clock, scene.layout, scene.devices, scene.leaks
    flows = run_flows(
        clock,
        layout,
        scene.true,
        scene.loggers(),
        scene.customers,
        scene.use,
        leaks,
        weights=scene.weights,
        condition_factors=scene.condition,
        tested=scene.tested,
    )
    daily = customer_daily_m3(clock, scene.use, scene.weights)
    errors = scene.errors
    return Simulated(
        **{field.name: getattr(scene, field.name) for field in fields(Scene)},
        flows=flows,
        daily_m3=daily,
        surveys=surveys_table(clock, layout, devices, leaks),
        step_tests=step_test_table(clock, flows.meter_l_s, scene.tested, errors, stream[15]),
        correlations=correlations_table(clock, layout, scene.true, devices, stream[16]),
        sightings=sightings_table(clock, scene.customers, devices, leaks),
        zone_readings=zone_readings(clock, flows.meter_l_s, devices.meters, errors, stream[10]),
        building_readings=building_readings(
            clock, flows.building_l_s, scene.meters(), errors, stream[11]
        ),
        pressure_readings=pressure_readings(
            clock, flows.logger_head_m, scene.loggers(), stream[12]
        ),
        acoustic_readings=acoustic_readings(
            clock, layout, scene.true, devices.sensors, flows.leaks_l_s, stream[17]
        ),
        customer_reads=customer_reads(scene.customers, daily, errors, stream[13]),
        alarm_readings=alarm_readings(clock, scene.sensors()),
    )


def _streams(seed: int) -> list[np.random.Generator]:
    return [np.random.default_rng([seed, number]) for number in range(_STREAMS)]


def _together(first: gpd.GeoDataFrame, second: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = list(dict.fromkeys([*first.columns, *second.columns]))
    rows = first.to_dict("records") + second.to_dict("records")
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry="geometry", crs=first.crs)
