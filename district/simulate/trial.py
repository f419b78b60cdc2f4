"""Many small districts with known truth, drawn straight into the tables the balance receives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from district.network import Network
from district.results import Reduced
from district.settings import ExceptionalUse, Settings
from district.simulate.trial_map import TrialMap, draw_map
from district.simulate.trial_network import network_of
from district.simulate.trial_readings import draw_readings
from district.simulate.trial_use import NIGHT, STEP_S, STEPS_A_DAY, Values
from district.simulate.trial_water import Leaks, Water, draw_water

FIRST_NIGHT = "2025-03-03"


@dataclass(frozen=True)
class MeterFault:
    """A zone meter reads `share` too much (below 0: too little) from night `first` on.

    Without `meter_id` one is drawn, a transfer meter if there is one.
    """

    share: float
    first: int
    meter_id: str = ""


@dataclass(frozen=True)
class OpenValve:
    """A boundary valve recorded shut passes `flow_l_s` into its other zone from night `first` on.

    Without `valve_id` one is drawn.
    """

    flow_l_s: float
    first: int
    valve_id: str = ""


Fault = MeterFault | OpenValve


@dataclass(frozen=True, eq=False)
class Trial:
    """A district as the balance receives it, and the truth behind it.

    network, reduced, settings, works
        as `district_balance` takes them.
    truth_nights
        a row a balanced cell and night: cell_id, night, leakage_l_s (mean over the window, all
        leakage, background included), leakage_m3_d (of the whole day), affected (a fault touches
        the cell).
    truth_zones
        a row a balanced cell: what was drawn (night_pressure_m, exponent, fall_share,
        condition_factor, background_l_s).
    leaks
        a row a leak: cell_id, start_d, end_d (days from the first midnight), flow_l_s, growing_d.
    faults
        as given, with the meter or valve drawn.
    """

    network: Network
    reduced: Reduced
    settings: Settings
    works: pd.DataFrame
    truth_nights: pd.DataFrame
    truth_zones: pd.DataFrame
    leaks: pd.DataFrame
    faults: tuple[Fault, ...]


def draw_trial(
    seed: int,
    *,
    connections_count: int = 500,
    zones_count: int = 4,
    nights_count: int = 60,
    with_pressure: bool = True,
    metered_share: float = 0.3,
    faults: Sequence[Fault] = (),
    leaks: Leaks | None = None,
    settings: Settings | None = None,
) -> Trial:
    """Draw one district of zones nested below a trunk main.

    Parameters: `metered_share` of customers have a meter read daily; `with_pressure` puts
    pressure loggers into every zone; `leaks` how many and how large; `settings` what the truth
    is drawn about (the defaults, and at times an exceptional night user, if not given).

    Raises `ValueError` if there are fewer connections than zones, no zone, no night, or a fault
    names nothing there is.
    """
    if not 1 <= zones_count <= connections_count or nights_count < 1:
        raise ValueError("at least one night, one zone, and a connection in each zone")
    rng = np.random.default_rng(seed)
    drawn = draw_map(
        rng,
        connections_count=connections_count,
        zones_count=zones_count,
        with_pressure=with_pressure,
        metered_share=metered_share,
    )
    settings = settings or _settings(rng, drawn)
    nights = pd.date_range(FIRST_NIGHT, periods=nights_count, freq="D").as_unit("us")
    water = draw_water(rng, drawn, settings=settings, nights=nights, leaks=leaks or Leaks())
    chosen = tuple(_chosen(rng, drawn, fault) for fault in faults)
    need = _need(drawn, water)
    affected = np.zeros((len(drawn.cells), nights_count), dtype=bool)
    off = np.zeros((len(drawn.edges), need.shape[1]))
    for fault in chosen:
        cells = _touched(drawn, fault)
        affected[cells[cells >= 0], fault.first :] = True
        since = fault.first * STEPS_A_DAY
        if isinstance(fault, MeterFault):
            off[_place(drawn.edges["meter_id"], fault.meter_id), since:] += fault.share
        else:
            need[cells[0], since:] += fault.flow_l_s
            need[cells[1], since:] -= fault.flow_l_s
    reduced = draw_readings(
        rng,
        drawn,
        water,
        edge_l_s=_edges_l_s(rng, drawn, need, nights_count),
        off_share=off,
        nights=nights,
        under_registration=(
            settings.annual.customer_under_registration_share,
            settings.annual.assumed_spread_share,
        ),
    )
    return Trial(
        network_of(drawn),
        reduced,
        settings,
        water.works,
        _truth_nights(drawn, water, nights, affected),
        water.zones,
        water.leaks,
        chosen,
    )


def _settings(rng: np.random.Generator, drawn: TrialMap) -> Settings:
    if rng.random() > 0.3:
        return Settings()
    zone = str(rng.choice(drawn.cells.index[1:]))
    flow = float(np.round(rng.uniform(0.02, 0.3), 2))
    return Settings(exceptional_use=(ExceptionalUse(zone_id=zone, flow_l_s=flow),))


def _chosen(rng: np.random.Generator, drawn: TrialMap, fault: Fault) -> Fault:
    if isinstance(fault, MeterFault):
        edges = drawn.edges
        inner = edges.loc[edges["role"] == "transfer", "meter_id"]
        drawable = inner if len(inner) else edges["meter_id"]
        name = fault.meter_id or str(rng.choice(drawable.to_numpy()))
        _place(edges["meter_id"], name)
        return replace(fault, meter_id=name)
    if not len(drawn.valves):
        raise ValueError("one zone has no boundary valve")
    name = fault.valve_id or str(rng.choice(drawn.valves["valve_id"].to_numpy()))
    _place(drawn.valves["valve_id"], name)
    return replace(fault, valve_id=name)


def _place(ids: pd.Series[Any], name: str) -> int:
    found = np.flatnonzero(ids == name)
    if not len(found):
        raise ValueError(f"one of {', '.join(ids)}, not {name}")
    return int(found[0])


def _touched(drawn: TrialMap, fault: Fault) -> Any:
    """Positions of the two cells beside a faulty device, -1 for the source."""
    if isinstance(fault, MeterFault):
        row = drawn.edges.iloc[_place(drawn.edges["meter_id"], fault.meter_id)]
        names = [row["upstream_cell_id"], row["downstream_cell_id"]]
    else:
        row = drawn.valves.iloc[_place(drawn.valves["valve_id"], fault.valve_id)]
        names = [row["first_cell_id"], row["other_cell_id"]]
    return drawn.cells.index.get_indexer(names)


def _need(drawn: TrialMap, water: Water) -> Values:
    """What flows out inside each cell, cells x T, L/s."""
    need = water.leakage_l_s + water.other_l_s
    own = drawn.users[drawn.users["role"] == "building"]
    np.add.at(need, drawn.cells.index.get_indexer(own["cell_id"]), water.building_l_s)
    return np.asarray(need)


def _edges_l_s(
    rng: np.random.Generator, drawn: TrialMap, need: Values, nights_count: int
) -> Values:
    """True flow of every zone meter, meters x T: each cell is fed before those that feed it."""
    edges, cells = drawn.edges, drawn.cells.index
    total = need.copy()
    flow = np.zeros((len(edges), need.shape[1]))
    into = cells.get_indexer(edges["downstream_cell_id"])
    out_of = cells.get_indexer(edges["upstream_cell_id"])
    for cell in range(len(cells) - 1, -1, -1):
        inlets = np.flatnonzero(into == cell)
        first = rng.uniform(0.3, 0.7) + rng.normal(0.0, 0.02, nights_count)
        first = np.repeat(first.clip(0.1, 0.9), STEPS_A_DAY)
        parts = [first, 1.0 - first] if len(inlets) == 2 else [np.ones(need.shape[1])]
        for meter, part in zip(inlets, parts, strict=True):
            flow[meter] = total[cell] * part
            if out_of[meter] >= 0:
                total[out_of[meter]] += flow[meter]
    return flow


def _truth_nights(
    drawn: TrialMap, water: Water, nights: pd.DatetimeIndex, affected: Any
) -> pd.DataFrame:
    cells = drawn.cells.index
    by_day = water.leakage_l_s.reshape(len(cells), len(nights), STEPS_A_DAY)
    return pd.DataFrame(
        {
            "cell_id": np.repeat(cells.to_numpy(), len(nights)),
            "night": np.tile(nights.to_numpy(), len(cells)),
            "leakage_l_s": by_day[:, :, NIGHT].mean(axis=2).ravel(),
            "leakage_m3_d": (by_day.sum(axis=2) * STEP_S / 1000.0).ravel(),
            "affected": affected.ravel(),
        }
    )
