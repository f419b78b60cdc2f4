"""The water itself: use and leakage to heads and flows, in balance in every quarter hour.

No solver: the head falls from the reservoir to each zone's inlet, and from there to a place, in
proportion to flow to the power 1.85 (Hazen-Williams, rounded). Leakage follows pressure.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.simulate.clock import Clock, utc_of
from district.simulate.customers import Customers
from district.simulate.demand import Use
from district.simulate.devices import REDUCING_SHARE
from district.simulate.layout import Layout, ground_m
from district.simulate.leaks import course
from district.simulate.routes import POWER, route
from district.simulate.scenario import REDUCED_PRESSURE_M, ZONE_IDS
from district.simulate.story import SEEDS, WORKS

Flow = NDArray[np.float64]
_OPEN_VALVE_L_S = 0.095
"""Through the valve left open, by the power 1 / 1.85 of each metre of head across it."""
_REFERENCE_M = 50.0
_ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Flows:
    """The exact truth before any meter, one row a quarter hour (UTC starts).

    use_l_s, background_l_s, other_l_s, inflow_l_s, head_m, loss_m, pressure_m: columns zone ids.
    leaks_l_s: columns seed ids; building_l_s: columns building meters, seeded leak included;
    meter_l_s: columns zone meters, positive downstream; exchange_l_s: through the valve left
    open, from C4 to V3. `inflow_l_s` is use + other + background + leaks of the zone's own area.
    """

    use_l_s: pd.DataFrame
    other_l_s: pd.DataFrame
    background_l_s: pd.DataFrame
    leaks_l_s: pd.DataFrame
    building_l_s: pd.DataFrame
    inflow_l_s: pd.DataFrame
    meter_l_s: pd.DataFrame
    exchange_l_s: pd.Series
    head_m: pd.DataFrame
    loss_m: pd.DataFrame
    pressure_m: pd.DataFrame


@dataclass(frozen=True, eq=False)
class _Ground:
    """Of each zone: background flow at the reference pressure, and its average place."""

    background_l_s: dict[str, float]
    feed_share: dict[str, float]
    elevation_m: dict[str, float]
    reduced_head_m: float


def run_flows(
    clock: Clock,
    layout: Layout,
    customers: Customers,
    use: Use,
    leaks: gpd.GeoDataFrame,
    *,
    condition_factors: dict[str, float],
) -> Flows:
    """Bring use, leakage, heads and flows together."""
    ground = _ground(layout, customers, condition_factors)
    buildings = _with_building_leaks(clock, customers, use.building_l_s)
    drawn = _zone_use(customers, use, buildings)
    other = _other_use(clock)
    opened = next(course(s, clock) for s in SEEDS if s.what == "boundary_open")
    own_leaks = {s.seed_id: course(s, clock) for s in SEEDS if s.what == "leak"}
    reference: dict[str, float] = {}
    leak_flow = {name: flow.copy() for name, flow in own_leaks.items()}
    background = {z: np.full(len(clock.utc), ground.background_l_s[z]) for z in ZONE_IDS}
    exchange = np.zeros(len(clock.utc))
    for number in range(_ROUNDS):
        inflow = {
            z: drawn[z]
            + other[z]
            + background[z]
            + sum((leak_flow[s] for s in leaks.index[leaks["zone_id"] == z]), np.zeros(1))
            for z in ZONE_IDS
        }
        meters, head, loss = route(inflow, exchange, reduced_head_m=ground.reduced_head_m)
        if number == _ROUNDS - 1:
            break
        pressure = _pressure(head, loss, ground)
        for z in ZONE_IDS:
            background[z] = ground.background_l_s[z] * (pressure[z] / _REFERENCE_M) ** 1.5
        for seed, leak in leaks.iterrows():
            zone = leak["zone_id"]
            here = head[zone] - leak["feed_share"] * loss[zone] - leak["elevation_m"]
            here = here.clip(1.0)
            # What the seed's flow is stated at: this place's pressure of an ordinary night.
            reference.setdefault(str(seed), float(np.median(here[clock.night])))
            ratio = (here / reference[str(seed)]) ** leak["exponent"]
            leak_flow[str(seed)] = own_leaks[str(seed)] * ratio
        drop = (head["C4"] - loss["C4"] - (head["V3"] - loss["V3"] * 0.5)).clip(0)
        exchange = np.minimum(opened * _OPEN_VALVE_L_S * drop ** (1 / POWER), 0.95 * inflow["V3"])
    frames = {
        name: pd.DataFrame(values, index=clock.utc)
        for name, values in {
            "use_l_s": drawn,
            "other_l_s": other,
            "background_l_s": background,
            "leaks_l_s": leak_flow,
            "inflow_l_s": inflow,
            "meter_l_s": meters,
            "head_m": head,
            "loss_m": loss,
            "pressure_m": _pressure(head, loss, ground),
        }.items()
    }
    return Flows(
        building_l_s=buildings, exchange_l_s=pd.Series(exchange, index=clock.utc), **frames
    )


def _ground(layout: Layout, customers: Customers, factors: dict[str, float]) -> _Ground:
    """Components of background leakage at 50 m: 20 L/km/h of mains, 1.25 L/connection/h and
    33 L/km/h of private pipe (Lambert et al. 1999, J Water SRT - Aqua 48(6), from memory)."""
    connections = customers.connections
    pipes = layout.pipes
    flow, share, level = {}, {}, {}
    for z in ZONE_IDS:
        own = connections[connections["zone_id"] == z]
        mains_km = _mains_km(pipes, z)
        components = 20.0 * mains_km + 1.25 * len(own) + 33.0 * own["private_pipe_m"].sum() / 1000
        flow[z] = factors[z] * components / 3600
        share[z] = float(own["feed_share"].mean())
        level[z] = float(own["elevation_m"].mean())
    link = pipes[pipes["device_id"] == "ZM-V3"].geometry
    valve = link.interpolate(REDUCING_SHARE, normalized=True)
    return _Ground(flow, share, level, float(ground_m(valve)[0]) + REDUCED_PRESSURE_M)


def _mains_km(pipes: gpd.GeoDataFrame, zone_id: str) -> float:
    """Pipes of the zone, of links to others the half on its side of the device."""
    length = pipes.geometry.length
    half = pipes["part"].isin(["link", "stub"])
    near = (pipes["zone_id"] == zone_id) | (pipes["to_zone_id"] == zone_id)
    return float(length[near].where(~half[near], length[near] / 2).sum() / 1000)


def _with_building_leaks(clock: Clock, customers: Customers, drawn: pd.DataFrame) -> pd.DataFrame:
    buildings = drawn.copy()
    meter = customers.connections.set_index("building_id")["meter_id"]
    for seed in SEEDS:
        if seed.what == "building_leak":
            buildings[meter[seed.device_id]] += course(seed, clock)
    return buildings


def _zone_use(customers: Customers, use: Use, buildings: pd.DataFrame) -> dict[str, Flow]:
    connections = customers.connections
    campus = connections[connections["use_class"] == "campus"]
    zones = use.customer_l_s.columns.get_level_values("zone_id")
    return {
        z: use.customer_l_s.loc[:, zones == z].to_numpy().sum(axis=1)
        + buildings[campus.loc[campus["zone_id"] == z, "meter_id"]].to_numpy().sum(axis=1)
        for z in ZONE_IDS
    }


def _other_use(clock: Clock) -> dict[str, Flow]:
    """Water drawn from mains for works and pools: through no customer's meter."""
    other = {z: np.zeros(len(clock.utc)) for z in ZONE_IDS}
    for work in WORKS:
        if work.flow_l_s:
            during = (clock.utc >= utc_of(work.start)) & (clock.utc < utc_of(work.end))
            other[work.zone_id] = other[work.zone_id] + work.flow_l_s * during
    for seed in SEEDS:
        if seed.what == "pool_filling":
            other[seed.zone_id] = other[seed.zone_id] + course(seed, clock)
    return other


def _pressure(head: dict[str, Flow], loss: dict[str, Flow], ground: _Ground) -> dict[str, Flow]:
    """Average zone pressure: the mean over its connections."""
    return {
        z: np.maximum(head[z] - ground.feed_share[z] * loss[z] - ground.elevation_m[z], 1.0)
        for z in ZONE_IDS
    }
