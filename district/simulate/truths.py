"""The two truth tables (`schema.truth`) of a simulated district."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from district.schema.truth import TRUTH, TRUTH_NIGHTS
from district.simulate.leaks import course
from district.simulate.scenario import ZONE_IDS
from district.simulate.simulated import Simulated
from district.simulate.story import SEEDS, Seed

_TOUCHES = {"ZM-V1V2": ("V1", "V2"), "BV-C4V3": ("C4", "V3")}
"""Zones whose balance a faulty meter or an open valve upsets."""


def truth_table(made: Simulated) -> pd.DataFrame:
    """What was seeded and happened within the record (table TRUTH)."""
    rows = []
    places = _places(made)
    for seed in SEEDS:
        running = course(seed, made.clock) > 0
        if not running.any():
            continue
        place = places[seed.seed_id]
        pipe = made.leaks["pipe_id"].get(seed.seed_id, "")
        rows.append(
            {
                "what": seed.what,
                "id": seed.seed_id,
                "zone_id": seed.zone_id,
                "pipe_id": pipe,
                "device_id": _device(made, seed),
                "along_m": _along_m(made, seed),
                "longitude": round(place.x, 8),
                "latitude": round(place.y, 8),
                "start_local": seed.knots[0][0],
                "end_local": seed.knots[-1][0] if seed.knots[-1][1] == 0 else "",
                "flow_l_s": round(_flow(made, seed, running), 3),
                "shape": seed.shape,
                "note": seed.note,
            }
        )
    return pd.DataFrame(rows, columns=list(TRUTH.names()))


def truth_nights_table(made: Simulated) -> pd.DataFrame:
    """True night leakage of each zone (table TRUTH_NIGHTS), by zone and night."""
    clock = made.clock
    dates = clock.local.normalize()[clock.night]
    upset: dict[str, np.ndarray] = {z: np.zeros(len(clock.utc), dtype=bool) for z in ZONE_IDS}
    for seed in SEEDS:
        for zone in _TOUCHES.get(seed.device_id, ()):
            upset[zone] |= course(seed, clock) > 0
    parts = []
    for zone in ZONE_IDS:
        own = made.leaks.index[made.leaks["zone_id"] == zone]
        leakage = made.flows.background_l_s[zone] + made.flows.leaks_l_s[own].sum(axis=1)
        frame = pd.DataFrame(
            {
                "zone_id": zone,
                "night": dates,
                "leakage_l_s": leakage.to_numpy()[clock.night],
                "affected": upset[zone][clock.night],
            }
        )
        parts.append(
            frame.groupby(["zone_id", "night"], as_index=False).agg(
                {"leakage_l_s": "mean", "affected": "max"}
            )
        )
    nights = pd.concat(parts, ignore_index=True)
    nights["leakage_l_s"] = nights["leakage_l_s"].round(5)
    return nights[list(TRUTH_NIGHTS.names())]


def _along_m(made: Simulated, seed: Seed) -> float | None:
    if seed.seed_id not in made.leaks.index:
        return None
    leak = made.leaks.loc[seed.seed_id]
    line = made.layout.pipes.set_index("pipe_id").geometry[leak["pipe_id"]]
    return round(float(leak["share"] * line.length), 1)


def _device(made: Simulated, seed: Seed) -> str:
    if seed.what != "building_leak":
        return seed.device_id
    building = made.customers.connections.set_index("building_id")["meter_id"]
    return str(building[seed.device_id])


def _places(made: Simulated) -> gpd.GeoSeries:
    """Where each seed is, WGS 84: leaks on their pipe, the others at their device."""
    pipes = made.layout.pipes.set_index("device_id")
    connections = made.customers.connections.set_index("building_id").geometry
    zones = made.layout.zones.set_index("zone_id").geometry
    points = dict(made.leaks.geometry.items())
    for seed in SEEDS:
        if seed.what in ("meter_fault", "boundary_open"):
            line = pipes.geometry[seed.device_id]
            points[seed.seed_id] = line.interpolate(0.5, normalized=True)
        elif seed.what == "building_leak":
            points[seed.seed_id] = connections[seed.device_id]
        elif seed.what == "pool_filling":
            points[seed.seed_id] = zones[seed.zone_id].representative_point()
    return gpd.GeoSeries(points, crs=made.layout.pipes.crs).to_crs("EPSG:4326")


def _flow(made: Simulated, seed: Seed, running: np.ndarray) -> float:
    """Mean night flow over the last week it ran; of a faulty meter, the flow it missed."""
    clock, flows = made.clock, made.flows
    if seed.what == "leak":
        flow = flows.leaks_l_s[seed.seed_id].to_numpy()
    elif seed.what == "boundary_open":
        flow = flows.exchange_l_s.to_numpy()
    elif seed.what == "meter_fault":
        flow = np.abs(flows.meter_l_s[seed.device_id].to_numpy()) * course(seed, clock)
    else:
        flow = course(seed, clock)
    nights = np.flatnonzero(running & clock.night)
    last = nights[-7 * 8 :] if len(nights) else np.flatnonzero(running)
    return float(flow[last].mean())
