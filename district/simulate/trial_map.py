"""The map of a light trial district: cells, zone meters, users, without any file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

SOURCE, TRUNK = "Source", "Trunk"


@dataclass(frozen=True, eq=False)
class TrialMap:
    """What the draw of water and the `Network` are made from.

    cells
        balanced cells, each after the cells that feed it: index cell_id; elevation_m, mains_km,
        connections_count, private_km.
    edges
        zone meters: meter_id, upstream_cell_id, downstream_cell_id, role, error_percent.
    taps
        connections: connection_id, cell_id, use_class, properties, meter_id, private_pipe_m.
    users, loggers, valves
        user meters (meter_id, role, error_percent, cell_id), pressure loggers (sensor_id,
        cell_id, elevation_m), shut valves (valve_id, first_cell_id, other_cell_id).
    """

    cells: pd.DataFrame
    edges: pd.DataFrame
    taps: pd.DataFrame
    users: pd.DataFrame
    loggers: pd.DataFrame
    valves: pd.DataFrame


def draw_map(
    rng: np.random.Generator,
    *,
    connections_count: int,
    zones_count: int,
    with_pressure: bool,
    metered_share: float,
) -> TrialMap:
    """Zones nested below a trunk main whose source is metered.

    The second zone is fed through the first, the third through the second; the last has two
    inlets (where there are at least three).
    """
    zones = [f"Z{n:02d}" for n in range(1, zones_count + 1)]
    taps = _taps(rng, zones, connections_count, metered_share)
    elevation_m = dict(zip([TRUNK, *zones], rng.normal(30.0, 8.0, zones_count + 1), strict=True))
    taps["elevation_m"] = taps["cell_id"].map(elevation_m) + rng.normal(0.0, 3.0, len(taps))
    by_cell = taps.groupby("cell_id")
    cells = pd.DataFrame({"connections_count": by_cell.size()}).reindex([TRUNK, *zones])
    cells["connections_count"] = cells["connections_count"].fillna(0).astype(int)
    cells["properties_count"] = by_cell["properties"].sum().reindex(cells.index).fillna(0.0)
    cells["private_km"] = by_cell["private_pipe_m"].sum().reindex(cells.index).fillna(0.0) / 1000
    cells["elevation_m"] = by_cell["elevation_m"].mean().reindex(cells.index)
    per_km = rng.lognormal(np.log(60.0), 0.35, len(cells))
    cells["mains_km"] = cells["connections_count"] / per_km
    cells.loc[TRUNK, "mains_km"] = rng.uniform(0.3, 1.0) * zones_count**0.5
    edges = _edges(rng, zones)
    cells["parent_cell_id"] = _parents(edges, cells.index)
    return TrialMap(
        cells,
        edges,
        taps,
        _user_meters(rng, taps),
        _loggers(rng, zones if with_pressure else [], elevation_m),
        pd.DataFrame(
            {
                "valve_id": [f"BV{n:02d}" for n in range(1, zones_count)],
                "first_cell_id": zones[:-1],
                "other_cell_id": zones[1:],
            }
        ),
    )


def _taps(
    rng: np.random.Generator, zones: list[str], count: int, metered_share: float
) -> pd.DataFrame:
    shares = rng.dirichlet(np.full(len(zones), 3.0))
    least = min(8, count // len(zones))
    sizes = least + rng.multinomial(count - least * len(zones), shares)
    building = rng.random(count) < 0.01
    use = np.where(rng.random(count) < 0.05, "commercial", "household").astype(object)
    use[building] = "campus"
    properties = np.where(rng.random(count) < 0.15, rng.integers(2, 7, count), 1)
    properties[use != "household"] = 1
    metered = (rng.random(count) < metered_share) & ~building
    meter = np.full(count, "", dtype=object)
    meter[metered] = [f"C{n:04d}" for n in np.flatnonzero(metered)]
    meter[building] = [f"B{n:04d}" for n in np.flatnonzero(building)]
    return pd.DataFrame(
        {
            "connection_id": [f"K{n:04d}" for n in range(count)],
            "cell_id": np.repeat(np.array(zones, dtype=object), sizes),
            "properties": properties,
            "use_class": use,
            "meter_id": meter,
            "private_pipe_m": rng.uniform(2.0, 15.0, count),
        }
    )


def _edges(rng: np.random.Generator, zones: list[str]) -> pd.DataFrame:
    rows = [("ZM-SRC", SOURCE, TRUNK)]
    for number, zone in enumerate(zones):
        chained = 0 < number < 3
        above = zones[number - 1] if chained else TRUNK
        if number >= 3 and rng.random() < 0.4:
            above = zones[int(rng.integers(0, number))]
        rows.append((f"ZM-{zone}", above, zone))
    if len(zones) >= 3:
        last = rows[-1]
        second = TRUNK if last[1] != TRUNK else zones[0]
        rows.append((f"ZM-{last[2]}-2", second, last[2]))
    frame = pd.DataFrame(rows, columns=["meter_id", "upstream_cell_id", "downstream_cell_id"])
    inner = ~frame["upstream_cell_id"].isin([SOURCE, TRUNK])
    frame["role"] = np.where(inner, "transfer", "inlet").astype(object)
    kinds = np.array(["electromagnetic", "pulse", "register"], dtype=object)
    frame["kind"] = kinds[rng.integers(0, 3, len(frame))]
    frame["error_percent"] = rng.choice([1.0, 2.0, 3.0], len(frame))
    return frame


def _parents(edges: pd.DataFrame, cells: pd.Index[Any]) -> list[str]:
    first = edges.drop_duplicates("downstream_cell_id").set_index("downstream_cell_id")
    above = first["upstream_cell_id"].reindex(cells)
    return list(above.where(~above.isin([SOURCE]), ""))


def _user_meters(rng: np.random.Generator, taps: pd.DataFrame) -> pd.DataFrame:
    own = taps[taps["meter_id"] != ""]
    building = (own["use_class"] == "campus").to_numpy()
    return pd.DataFrame(
        {
            "meter_id": own["meter_id"].to_numpy(),
            "role": np.where(building, "building", "customer").astype(object),
            "error_percent": np.where(building, rng.choice([2.0, 3.0], len(own)), 4.0),
            "cell_id": own["cell_id"].to_numpy(),
        }
    )


def _loggers(
    rng: np.random.Generator, zones: list[str], elevation_m: dict[str, float]
) -> pd.DataFrame:
    rows = [
        (f"PL-{zone}-{n}", zone, elevation_m[zone] + float(rng.normal(0.0, 4.0)))
        for zone in zones
        for n in range(1, 2 + int(rng.random() < 0.3))
    ]
    return pd.DataFrame(rows, columns=["sensor_id", "cell_id", "elevation_m"])
