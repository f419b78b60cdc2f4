"""The water itself: use and leakage to heads and flows, in balance in every quarter hour.

Every quarter hour is a steady state of the whole network (`district.hydraulics`), in which
leakage follows pressure. What a connection draws is shared between the ends of its pipe.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.simulate.clock import Clock
from district.simulate.customers import Customers
from district.simulate.demand import Use
from district.simulate.draws import background_l_s, drawn_at_nodes, other_use
from district.simulate.layout import Layout
from district.simulate.leaks import course
from district.simulate.scenario import ZONE_IDS
from district.simulate.states import States, leaking, solved
from district.simulate.story import SEEDS
from district.simulate.true_model import Mark, TrueModel


@dataclass(frozen=True, eq=False)
class Flows:
    """The exact truth before any meter, one row a quarter hour (UTC starts).

    use_l_s, missed_l_s, other_l_s, background_l_s, inflow_l_s, pressure_m
        columns zone ids. Inflow is what the zone's own area takes: use less what was missed
        (wanted while the step test had it cut off), other, background and leaks. Pressure is the
        mean over its connections.
    leaks_l_s
        columns seed ids.
    building_l_s
        columns building meters, seeded leak included.
    meter_l_s
        columns zone meters, positive downstream.
    exchange_l_s
        through the valve left open, from C4 to V3.
    logger_head_m
        columns pressure loggers.
    """

    use_l_s: pd.DataFrame
    missed_l_s: pd.DataFrame
    other_l_s: pd.DataFrame
    background_l_s: pd.DataFrame
    leaks_l_s: pd.DataFrame
    building_l_s: pd.DataFrame
    inflow_l_s: pd.DataFrame
    meter_l_s: pd.DataFrame
    exchange_l_s: pd.Series
    logger_head_m: pd.DataFrame
    pressure_m: pd.DataFrame


def run_flows(
    clock: Clock,
    layout: Layout,
    true: TrueModel,
    loggers: gpd.GeoDataFrame,
    customers: Customers,
    use: Use,
    leaks: gpd.GeoDataFrame,
    *,
    weights: dict[tuple[str, str], pd.DataFrame],
    condition_factors: dict[str, float],
    tested: tuple[Mark, ...] = (),
) -> Flows:
    """Bring use, leakage, heads and flows together.

    `true` has a node called by each seed of `leaks` and a link by each valve `tested`; `loggers`
    are the pressure loggers; `weights` are `customer_weights`.
    """
    buildings = _with_building_leaks(clock, customers, use.building_l_s)
    other = other_use(clock)
    drawn = drawn_at_nodes(
        clock,
        layout,
        true,
        customers,
        use,
        weights=weights,
        buildings_l_s=buildings,
        other_l_s=other,
    )
    background = background_l_s(true, customers, condition_factors)
    seeds = [str(seed) for seed in leaks.index]
    kept = _Kept(layout, true, loggers, customers, seeds)
    openings = leaking(clock, true, drawn, leaks, background)
    states = solved(clock, layout, true, drawn, openings, tested=tested)
    told = {
        name: pd.DataFrame(np.vstack(parts), index=clock.utc, columns=kept.columns[name])
        for name, parts in kept.gather(states).items()
    }
    taken = _zone_use(customers, use, buildings)
    inflow = {
        z: taken[z]
        - told["missed"][z]
        + other[z]
        + told["background"][z]
        + told["leaks"][leaks.index[leaks["zone_id"] == z]].sum(axis=1)
        for z in ZONE_IDS
    }
    return Flows(
        use_l_s=taken,
        missed_l_s=told["missed"],
        other_l_s=other,
        background_l_s=told["background"],
        leaks_l_s=told["leaks"],
        building_l_s=buildings,
        inflow_l_s=pd.DataFrame(inflow),
        meter_l_s=told["meters"],
        exchange_l_s=told["exchange"]["BV-C4V3"],
        logger_head_m=told["loggers"],
        pressure_m=told["pressure"],
    )


class _Kept:
    """What is kept of each state, as weights over nodes and places of links."""

    def __init__(
        self,
        layout: Layout,
        true: TrueModel,
        loggers: gpd.GeoDataFrame,
        customers: Customers,
        seeds: list[str],
    ) -> None:
        metered = layout.pipes[layout.pipes["device"].isin(["inlet", "transfer", "outlet"])]
        opened = layout.pipes.set_index("device_id").loc[["BV-C4V3"]]
        self._meters = [true.piece(p, 0.5)[0] for p in metered["pipe_id"]]
        self._exchange = [true.piece(p, 0.5)[0] for p in opened["pipe_id"]]
        self._loggers = true.taps(loggers["pipe_id"], loggers["share"])
        self._leaks = [true.node(seed) for seed in seeds]
        connections = customers.connections
        taps = true.taps(connections["pipe_id"], connections["share"])
        own = connections["zone_id"].to_numpy()[None, :] == np.array(ZONE_IDS)[:, None]
        mean = own / own.sum(axis=1, keepdims=True)
        self._pressure = mean @ taps
        self._level = mean @ connections["elevation_m"].to_numpy(dtype=float)
        zone = true.node_zone[:, None] == np.array(ZONE_IDS, dtype=object)
        self._zone = zone.astype(float)
        self._background = self._zone.copy()
        self._background[self._leaks] = 0.0
        self.columns: dict[str, list[str]] = {
            "meters": list(metered["device_id"]),
            "exchange": ["BV-C4V3"],
            "loggers": list(loggers["sensor_id"]),
            "leaks": seeds,
            "background": list(ZONE_IDS),
            "missed": list(ZONE_IDS),
            "pressure": list(ZONE_IDS),
        }

    def gather(self, states: Iterable[States]) -> dict[str, list[Reals]]:
        """Rows of each kept table, one block a stretch of time."""
        parts: dict[str, list[Reals]] = {name: [] for name in self.columns}
        for state in states:
            parts["meters"].append(state.flow_l_s[:, self._meters])
            parts["exchange"].append(state.flow_l_s[:, self._exchange])
            parts["loggers"].append((self._loggers @ state.head_m.T).T)
            parts["leaks"].append(state.leakage_l_s[:, self._leaks])
            parts["background"].append(state.leakage_l_s @ self._background)
            parts["missed"].append(state.missed_l_s @ self._zone)
            parts["pressure"].append(state.head_m @ self._pressure.T - self._level)
        return parts


def _with_building_leaks(clock: Clock, customers: Customers, drawn: pd.DataFrame) -> pd.DataFrame:
    buildings = drawn.copy()
    meter = customers.connections.set_index("building_id")["meter_id"]
    for seed in SEEDS:
        if seed.what == "building_leak":
            buildings[meter[seed.device_id]] += course(seed, clock)
    return buildings


def _zone_use(customers: Customers, use: Use, buildings: pd.DataFrame) -> pd.DataFrame:
    connections = customers.connections
    campus = connections[connections["use_class"] == "campus"]
    zones = use.customer_l_s.columns.get_level_values("zone_id")
    return pd.DataFrame(
        {
            z: use.customer_l_s.loc[:, zones == z].sum(axis=1)
            + buildings[campus.loc[campus["zone_id"] == z, "meter_id"]].sum(axis=1)
            for z in ZONE_IDS
        }
    )
