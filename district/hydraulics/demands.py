"""What leaves the network hour by hour: measured use, use that is spread, background leakage."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array, diags_array

from district.hydraulics.expected import (
    ALLOWED_SPREAD_SHARE,
    BILLED_SPREAD_SHARE,
    background_at_50_m_l_s,
    expected_use_l_s,
    pressure_power,
)
from district.hydraulics.flow_table import filled_by_hour, hours_of, laid_out
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.parting import standing_node
from district.hydraulics.places import along
from district.hydraulics.water import Demands, Drawn
from district.network import Network, edges_with_tanks
from district.settings import Settings

_LEAST_PRESSURE_M = 5.0


def hourly_demands(
    network: Network,
    drawn: Drawn,
    hourly_flows: pd.DataFrame,
    *,
    settings: Settings,
    leakage_l_s: pd.Series[Any] | None = None,
    pressure_m: pd.Series[Any] | None = None,
    billed_l_s: pd.Series[Any] | None = None,
    days: Collection[date] | None = None,
) -> Demands:
    """Lay out what leaves every node at every hour.

    Parameters: `hourly_flows` table HOURLY_FLOWS, of zone meters, tanks (positive: filling) and
    interval-metered users; `leakage_l_s` by cell_id, as the nights tell it, all of it spread as
    background is (without it: background by components); `pressure_m` average zone pressure by
    cell_id (else the assumed one); `billed_l_s` mean use by meter_id; `days` keeps only these
    local dates.

    A cell's net inflow is that of the zone meters and tanks around it. Users whose meter has
    hourly rows draw what it read (its usual at that hour where one is missing); a tank draws what
    it stores. A cell that holds a source, or one of whose meters never reports hourly, has no net
    inflow: its use and background are the usual ones at every hour.
    """
    cells = pd.Index([str(c) for c in network.cells.index], dtype=object)
    edges = edges_with_tanks(network)
    rims = pd.Index(sorted(edges["meter_id"].astype(str).unique()), dtype=object)
    hours = hours_of(hourly_flows, devices=rims, days=days)
    inflow = _net_inflow_l_s(hourly_flows, edges, cells, rims, hours)
    inflow[:, network.cells["has_source"].to_numpy(dtype=bool)] = np.nan
    users, user_share, user_cell = _metered(network, drawn, hourly_flows, cells)
    hour = hours["hour"].to_numpy(dtype=np.int64)
    drew = filled_by_hour(
        laid_out(hourly_flows, value="flow_l_s", devices=users, hours=hours), hour
    )
    drew = np.nan_to_num(drew)
    tanks, tank_share = _tanks(network, drawn)
    stored = np.nan_to_num(laid_out(hourly_flows, value="flow_l_s", devices=tanks, hours=hours))
    use_l_s = expected_use_l_s(network.connections, settings=settings, billed_l_s=billed_l_s)
    metered = network.connections["meter_id"].astype(object).isin(users).to_numpy()
    open_use = np.where(metered, 0.0, use_l_s)
    inside = _in_cells(network.connections["cell_id"], cells)
    use = inside @ diags_array(open_use) @ drawn.tap
    parts = _components(network, drawn, cells, inside, settings)
    pressure = _pressures(cells, pressure_m, settings)
    leak_power = pressure_power(pressure, settings=settings)
    leakage = np.asarray(parts.sum(axis=1)) * leak_power
    if leakage_l_s is not None:
        told = leakage_l_s.reindex(cells).to_numpy(dtype=float)
        leakage = np.where(np.isfinite(told), np.maximum(told, 0.0), leakage)
    rest = inflow - drew @ user_cell
    unmetered = np.isnan(inflow).all(axis=0)
    usual = np.asarray(use.sum(axis=1)) + leakage
    rest[:, unmetered] = usual[unmetered]
    spread_leak = _rows_to_one(_by_pressure(parts, drawn, pressure, settings))
    return Demands(
        hours=hours,
        cell_id=cells.to_numpy(),
        rest_l_s=rest,
        measured_l_s=np.asarray(drew @ user_share + stored @ tank_share),
        use=_or_else(_rows_to_one(use), spread_leak),
        leakage=spread_leak,
        leakage_l_s=leakage,
        use_spread_share=_use_spread(network, inside, open_use, billed_l_s),
    )


def _net_inflow_l_s(
    hourly: pd.DataFrame,
    edges: pd.DataFrame,
    cells: pd.Index[Any],
    rims: pd.Index[Any],
    hours: pd.DataFrame,
) -> Reals:
    """Hours x cells; NaN where a meter around the cell lacks the hour, or there is none."""
    signs = np.zeros((len(rims), len(cells)))
    edges = edges[edges["upstream_cell_id"].astype(str) != edges["downstream_cell_id"].astype(str)]
    meter = rims.get_indexer(edges["meter_id"].astype(str))
    for column, sign in (("downstream_cell_id", 1.0), ("upstream_cell_id", -1.0)):
        cell = cells.get_indexer(edges[column].astype(str))
        signs[meter[cell >= 0], cell[cell >= 0]] = sign
    flows = laid_out(hourly, value="flow_l_s", devices=rims, hours=hours)
    lacking = np.isnan(flows).astype(float) @ np.abs(signs) > 0
    net = np.nan_to_num(flows) @ signs
    return np.where(lacking | ~(signs != 0).any(axis=0), np.nan, net)


def _metered(
    network: Network, drawn: Drawn, hourly: pd.DataFrame, cells: pd.Index[Any]
) -> tuple[pd.Index[Any], csr_array, csr_array]:
    """Users with hourly rows; how each one's draw is shared over nodes, and over cells."""
    taps = network.connections
    meter = taps["meter_id"].astype(object).fillna("").astype(str)
    reading = set(hourly["device_id"].astype(str)) - {""}
    users = pd.Index(sorted(set(meter[meter.isin(reading)])), dtype=object)
    row = users.get_indexer(meter)
    own = np.flatnonzero((row >= 0) & (taps["pipe_id"] != "").to_numpy())
    properties = np.maximum(taps["properties"].fillna(1).to_numpy(dtype=float), 1e-9)
    owns = _rows_to_one(
        csr_array((properties[own], (row[own], own)), shape=(len(users), len(taps)))
    )
    return users, csr_array(owns @ drawn.tap), csr_array(owns @ _in_cells(taps["cell_id"], cells).T)


def _tanks(network: Network, drawn: Drawn) -> tuple[pd.Index[Any], csr_array]:
    """Tanks inside cells, and the node each stores from."""
    edges = edges_with_tanks(network)
    ids = set(edges["meter_id"].astype(str)) & {str(s) for s in network.sensors.index}
    tanks = network.sensors.loc[sorted(ids)]
    pipe, share = along(tanks, network.pipes)
    start, end = (ends[drawn.pipe_link] for ends in (drawn.model.start, drawn.model.end))
    node = standing_node(start, end, pipe=pipe, share=share)
    at = np.flatnonzero((node >= 0) & np.isnan(drawn.model.fixed_head_m[node]))
    where = (np.ones(len(at)), (at, node[at]))
    shares = csr_array(where, shape=(len(tanks), len(drawn.model.node_id)))
    return pd.Index([str(s) for s in tanks.index], dtype=object), shares


def _components(
    network: Network, drawn: Drawn, cells: pd.Index[Any], inside: csr_array, settings: Settings
) -> csr_array:
    """Background leakage at 50 m, cells x nodes: mains by length, connections at their taps."""
    pipes, taps = network.pipes, network.connections
    shape = (len(cells), len(drawn.model.node_id))
    cell = cells.get_indexer(pipes["cell_id"].astype(str))
    rule = settings.background
    half = background_at_50_m_l_s(
        pipes["length_m"].to_numpy(dtype=float) / 2000.0,
        connections_count=0,
        private_km=0.0,
        background=rule,
        condition_factor=rule.condition_factor,
    )
    link = drawn.pipe_link
    where = (np.concatenate([cell, cell]),
             np.concatenate([drawn.model.start[link], drawn.model.end[link]]))  # fmt: skip
    mains = csr_array((np.concatenate([half, half]), where), shape=shape)
    private_m = taps["private_pipe_m"].fillna(0.0).to_numpy(dtype=float)
    services = background_at_50_m_l_s(
        np.zeros(len(taps)),
        connections_count=1,
        private_km=private_m / 1000.0,
        background=rule,
        condition_factor=rule.condition_factor,
    )
    return csr_array(mains + inside @ diags_array(services) @ drawn.tap)


def _pressures(
    cells: pd.Index[Any], pressure_m: pd.Series[Any] | None, settings: Settings
) -> Reals:
    told = np.full(len(cells), np.nan)
    if pressure_m is not None:
        told = pressure_m.reindex(cells).to_numpy(dtype=float)
    return np.where(np.isfinite(told), told, settings.pressure.assumed_m)


def _by_pressure(parts: csr_array, drawn: Drawn, pressure: Reals, settings: Settings) -> csr_array:
    """The components of each cell weighed by pressure, higher where the ground is lower."""
    total = np.maximum(np.asarray(parts.sum(axis=1)), 1e-12)
    middle = (parts @ drawn.model.elevation_m) / total
    table = parts.tocoo()
    row, node = table.coords
    at = np.maximum(pressure[row] + middle[row] - drawn.model.elevation_m[node], _LEAST_PRESSURE_M)
    return csr_array(
        (table.data * pressure_power(at, settings=settings), (row, node)), shape=parts.shape
    )


def _use_spread(
    network: Network, inside: csr_array, use_l_s: Reals, billed_l_s: pd.Series[Any] | None
) -> Reals:
    """By cell, the mean of its connections' 95 % limits, each by its use."""
    spread = np.full(len(use_l_s), ALLOWED_SPREAD_SHARE)
    if billed_l_s is not None:
        told = network.connections["meter_id"].isin(billed_l_s.dropna().index).to_numpy()
        spread[told] = BILLED_SPREAD_SHARE
    total = inside @ use_l_s
    some = total > 0
    mean = np.divide(inside @ (use_l_s * spread), total, out=np.zeros(len(total)), where=some)
    return np.where(some, mean, ALLOWED_SPREAD_SHARE)


def _in_cells(cell_id: Any, cells: pd.Index[Any]) -> csr_array:
    """Cells x things: 1 where the thing is in the cell."""
    cell = cells.get_indexer(pd.Index(cell_id).astype(str))
    on: Wholes = np.flatnonzero(cell >= 0)
    return csr_array((np.ones(len(on)), (cell[on], on)), shape=(len(cells), len(cell)))


def _rows_to_one(table: Any) -> csr_array:
    total = np.asarray(table.sum(axis=1))
    scale = np.divide(1.0, total, out=np.zeros(len(total)), where=total > 0)
    return csr_array(diags_array(scale) @ table)


def _or_else(table: csr_array, instead: csr_array) -> csr_array:
    """Rows of `table`; those without anything from `instead`."""
    bare = np.asarray(table.sum(axis=1)) == 0
    return csr_array(table + diags_array(bare.astype(float)) @ instead)
