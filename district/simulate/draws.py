"""What is drawn at each node of the true model: use, works from hydrants, background leakage."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.hydraulics.model import Flags, Reals
from district.simulate.clock import Clock, utc_of
from district.simulate.customers import Customers
from district.simulate.demand import Use
from district.simulate.layout import Layout
from district.simulate.leaks import course
from district.simulate.scenario import ZONE_IDS
from district.simulate.story import SEEDS, WORKS
from district.simulate.true_model import TrueModel

BACKGROUND_EXPONENT = 1.5
REFERENCE_M = 50.0
"""Pressure at which the published components of background leakage hold."""


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws of T quarter hours at N nodes: `totals_l_s` (T, K) of K users and groups of users.

    month (T)
        local month less 1.
    spread (12, K, N)
        how each total is shared among the nodes in each month; rows sum to 1.
    """

    totals_l_s: Reals
    month: NDArray[np.int64]
    spread: Reals

    def node_l_s(self, steps: slice) -> Reals:
        """Draws at the nodes, (steps, N); the steps lie in one month."""
        month = self.month[steps]
        if month[0] != month[-1]:
            raise ValueError("steps of one month")
        return np.asarray(self.totals_l_s[steps] @ self.spread[month[0]])

    def mean_l_s(self, during: Flags) -> Reals:
        """Mean draws at the nodes over the steps flagged, (N)."""
        totals, month = self.totals_l_s[during], self.month[during]
        sums = [totals[month == m].sum(axis=0) @ self.spread[m] for m in np.unique(month)]
        return np.asarray(np.sum(sums, axis=0) / len(totals))


def customer_weights(
    customers: Customers, use: Use, rng: np.random.Generator
) -> dict[tuple[str, str], pd.DataFrame]:
    """Each connection's share of the use of its zone and class in each month (12 columns).

    Weights are drawn for each customer and month, so that habits change over the year.
    """
    connections = customers.connections
    weights = {}
    for zone_id, use_class in use.customer_l_s.columns:
        own = connections[
            (connections["zone_id"] == zone_id) & (connections["use_class"] == use_class)
        ]
        size = rng.gamma(3.0, 1 / 3.0, len(own)) * own["properties"].to_numpy()
        drawn = size[:, None] * rng.gamma(8.0, 1 / 8.0, (len(own), 12))
        weights[zone_id, use_class] = pd.DataFrame(
            drawn / drawn.sum(axis=0), index=own["connection_id"]
        )
    return weights


def drawn_at_nodes(
    clock: Clock,
    layout: Layout,
    true: TrueModel,
    customers: Customers,
    use: Use,
    *,
    weights: dict[tuple[str, str], pd.DataFrame],
    buildings_l_s: pd.DataFrame,
    other_l_s: pd.DataFrame,
) -> Draws:
    """Lay all draws on the nodes beside the connections; hydrants stand on their zone's widest
    main."""
    connections = customers.connections.set_index("connection_id")
    taps = true.taps(connections["pipe_id"], connections["share"])
    row = pd.Series(range(len(connections)), index=connections.index)
    totals, spread = [], []
    for (zone_id, use_class), share in weights.items():
        totals.append(use.customer_l_s[zone_id, use_class].to_numpy())
        spread.append(share.to_numpy().T @ taps[row[share.index].to_numpy()])
    at_meter = row.set_axis(connections["meter_id"])
    for meter in buildings_l_s.columns:
        totals.append(buildings_l_s[meter].to_numpy())
        spread.append(np.tile(taps[[at_meter[meter]]].toarray(), (12, 1)))
    for zone_id in other_l_s.columns:
        at = np.zeros((12, len(true.node_zone)))
        at[:, true.node(_hydrant(layout.pipes, zone_id))] = 1.0
        totals.append(other_l_s[zone_id].to_numpy())
        spread.append(at)
    return Draws(
        totals_l_s=np.column_stack(totals),
        month=clock.local.month.to_numpy(dtype=np.int64) - 1,
        spread=np.stack([np.asarray(s) for s in spread], axis=1),
    )


def other_use(clock: Clock) -> pd.DataFrame:
    """Water drawn from hydrants for works and pools, L/s by zone: through no customer's meter."""
    other = {z: np.zeros(len(clock.utc)) for z in ZONE_IDS}
    for work in WORKS:
        if work.flow_l_s:
            during = (clock.utc >= utc_of(work.start)) & (clock.utc < utc_of(work.end))
            other[work.zone_id] += work.flow_l_s * during
    for seed in SEEDS:
        if seed.what == "pool_filling":
            other[seed.zone_id] += course(seed, clock)
    return pd.DataFrame(other, index=clock.utc)


def background_l_s(true: TrueModel, customers: Customers, factors: dict[str, float]) -> Reals:
    """Background leakage of each node at 50 m of pressure, (N).

    Components: 20 L/km/h of mains, 1.25 L/connection/h and 33 L/km/h of private pipe (Lambert et
    al. 1999, J Water SRT - Aqua 48(6), from memory), times the zone's own factor. Half of each
    main leaks at either end: so a link's halves leak on their own side of its meter.
    """
    model = true.model
    mains_km = np.zeros(len(true.node_zone))
    for end in (model.start, model.end):
        np.add.at(mains_km, end, model.length_m / 2000)
    connections = customers.connections
    taps = true.taps(connections["pipe_id"], connections["share"])
    service_l_h = 1.25 + 33.0 * connections["private_pipe_m"].to_numpy() / 1000
    factor = np.array([factors.get(zone, 0.0) for zone in true.node_zone])
    return np.asarray(factor * (20.0 * mains_km + taps.T @ service_l_h) / 3600)


def _hydrant(pipes: gpd.GeoDataFrame, zone_id: str) -> str:
    """Node of the zone's widest main, halfway in the order it was drawn."""
    own = pipes[(pipes["zone_id"] == zone_id) & pipes["part"].isin(["street", "spine", "trunk"])]
    widest = own[own["diameter_mm"] == own["diameter_mm"].max()]
    return str(widest["end"].iloc[len(widest) // 2])
