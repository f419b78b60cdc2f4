"""What stands on the streets of a drawn zone: mains as laid, connections, loggers, its feed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes
from district.simulate.leak_trial_streets import Streets

SOURCE, ZONE = "Source", "Z01"
YEAR = 2025
METER_ERROR_PERCENT = 2.0
_LAID = (
    (1900, 1940, ("cast_iron",)),
    (1940, 1968, ("cast_iron", "asbestos_cement", "steel")),
    (1968, 1992, ("ductile_iron", "pvc", "asbestos_cement")),
    (1992, 2024, ("polyethylene", "pvc", "ductile_iron")),
)
"""What was laid when. Common practice, no source."""
_NEW_C = {
    "cast_iron": (130.0, 0.6),
    "steel": (140.0, 0.5),
    "ductile_iron": (135.0, 0.15),
    "asbestos_cement": (140.0, 0.05),
    "pvc": (148.0, 0.0),
    "polyethylene": (145.0, 0.0),
}
"""Hazen-Williams C as laid, and what it loses a year. Common practice, no source."""
_USE_L_D = {"household": 350.0, "commercial": 1200.0}
_USE_SPREAD = {"household": 0.5, "commercial": 0.9}
"""Spread of the logarithm of one connection's mean use. Assumption."""
_LARGE_SHARE = 0.004
_LARGE_L_D = 12_000.0


@dataclass(frozen=True, eq=False)
class ZoneMap:
    """One zone fed from a source through a trunk main and one or two zone meters.

    nodes
        x_m, y_m, elevation_m; those of the zone first, then source, fork and meters.
    pipes
        index pipe_id, in order; start, end (rows of nodes), cell_id, length_m, material,
        installed_year, diameter_mm, and hidden: roughness_index (true Hazen-Williams C).
    taps
        connections: connection_id, pipe (row of pipes), share (along it), properties, use_class,
        private_pipe_m, meter_id ('' if it has none that is read by the hour), and hidden: mean_l_s.
    meters
        zone meters: meter_id, node.
    loggers
        sensor_id, pipe, share.
    source
        its node.
    """

    nodes: pd.DataFrame
    pipes: pd.DataFrame
    taps: pd.DataFrame
    meters: pd.DataFrame
    loggers: pd.DataFrame
    source: int


def furnish(
    rng: np.random.Generator, streets: Streets, *, loggers_count: int, metered_share: float
) -> ZoneMap:
    """Lay mains in the streets, feed them, connect users and place loggers.

    Parameters: `metered_share` of users, the largest ones first, have a meter read by the hour.
    Bores are not chosen here: 100 mm throughout.
    """
    nodes, start, end, source, meters = _fed(rng, streets)
    count = len(streets.start)
    place = nodes[["x_m", "y_m"]].to_numpy()
    length = np.hypot(*(place[end] - place[start]).T)
    material, year = _laid(rng, (place[start] + place[end]) / 2)
    pipes = pd.DataFrame(
        {
            "start": start,
            "end": end,
            "cell_id": np.where(np.isin(start, (source, source + 1)), SOURCE, ZONE).astype(object),
            "length_m": length,
            "material": material,
            "installed_year": year,
            "diameter_mm": 100.0,
            "roughness_index": _roughness(rng, material, year),
        },
        index=pd.Index([f"P{n:05d}" for n in range(len(start))], name="pipe_id", dtype=object),
    )
    return ZoneMap(
        nodes,
        pipes,
        _taps(rng, length[:count], metered_share),
        pd.DataFrame({"meter_id": [f"ZM-{n + 1}" for n in range(len(meters))], "node": meters}),
        _loggers(rng, streets, loggers_count),
        source,
    )


def textbook_roughness(material: Any, installed_year: Reals) -> Reals:
    """Hazen-Williams C as a handbook gives it for the material and age."""
    new, loss = np.array([_NEW_C[m] for m in material]).T
    return np.asarray(new - loss * (YEAR - installed_year))


def along(drawn: ZoneMap, values: Reals, things: pd.DataFrame) -> Reals:
    """Values of the nodes (N, ...) between the ends of the pipe of each thing (pipe, share)."""
    ends = drawn.pipes[["start", "end"]].to_numpy()[things["pipe"]]
    share = things["share"].to_numpy().reshape(-1, *(1,) * (values.ndim - 1))
    return np.asarray((1.0 - share) * values[ends[:, 0]] + share * values[ends[:, 1]])


def _fed(
    rng: np.random.Generator, streets: Streets
) -> tuple[pd.DataFrame, Wholes, Wholes, int, Wholes]:
    """Nodes, mains and the zone meters with what leads there from the source."""
    zone, gates = len(streets.place_m), streets.gates
    middle = streets.place_m.mean(axis=0)
    outward = streets.place_m[gates] - middle
    outward /= np.hypot(*outward.T)[:, None]
    meter_at = streets.place_m[gates] + 20.0 * outward
    fork = meter_at[0] + 30.0 * outward[0]
    source = fork + rng.uniform(200.0, 600.0) * outward[0]
    place = np.vstack([streets.place_m, source, fork, meter_at])
    meters = zone + 2 + np.arange(len(gates))
    start = np.concatenate([streets.start, [zone], np.full(len(gates), zone + 1), meters])
    end = np.concatenate([streets.end, [zone + 1], meters, gates])
    fall = rng.normal(0.0, 8.0, 2) / np.ptp(place, axis=0).max()
    wave = rng.uniform(0.0, 3.0) * np.sin(place[:, 0] / 210 + place[:, 1] / 165)
    level = rng.uniform(20.0, 150.0) + (place - middle) @ fall + wave
    nodes = pd.DataFrame({"x_m": place[:, 0], "y_m": place[:, 1], "elevation_m": level})
    return nodes, start, end, zone, meters


def _laid(rng: np.random.Generator, at_m: Reals) -> tuple[Any, Reals]:
    """Material and year: quarters were laid at once, here and there a main renewed."""
    quarters = max(3, len(at_m) // 60)
    seeds = at_m[rng.integers(0, len(at_m), quarters)]
    near = np.argmin(((at_m[:, None] - seeds[None]) ** 2).sum(axis=2), axis=1)
    laid = rng.integers(1905, 2015, quarters)[near] + rng.integers(0, 8, len(at_m))
    choice = rng.integers(0, 6, quarters)[near]
    renewed = (laid < 1990) & (rng.random(len(at_m)) < 0.12)
    laid = np.where(renewed, rng.integers(2000, 2024, len(at_m)), laid).clip(1900, 2023)
    period = np.searchsorted([last for _, last, _ in _LAID], laid, side="right")
    names = [_LAID[p][2][c % len(_LAID[p][2])] for p, c in zip(period, choice, strict=True)]
    return np.array(names, dtype=object), laid.astype(float)


def _roughness(rng: np.random.Generator, material: Any, year: Reals) -> Reals:
    """True C: each material and age of the zone off by about 12 %, each main by 6 %; of old iron
    some are overgrown. Assumption."""
    kinds, kind = np.unique([f"{m} {y // 25}" for m, y in zip(material, year, strict=True)], False,
                            True)  # fmt: skip
    off = rng.normal(0.0, 0.12, len(kinds))[kind] + rng.normal(0.0, 0.06, len(kind))
    overgrown = (material == "cast_iron") & (year < 1960) & (rng.random(len(kind)) < 0.05)
    c = textbook_roughness(material, year) * np.exp(off) * np.where(overgrown, 0.6, 1.0)
    return np.asarray(c.clip(35.0, 155.0))


def _taps(rng: np.random.Generator, length_m: Reals, metered_share: float) -> pd.DataFrame:
    count = rng.poisson(length_m * rng.lognormal(np.log(0.05), 0.25))
    pipe = np.repeat(np.arange(len(length_m)), count)
    use = np.where(rng.random(len(pipe)) < 0.05, "commercial", "household").astype(object)
    flats = (use == "household") & (rng.random(len(pipe)) < 0.08)
    properties = np.where(flats, rng.integers(2, 12, len(pipe)), 1)
    mean = np.empty(len(pipe))
    for name, usual in _USE_L_D.items():
        own = use == name
        spread = _USE_SPREAD[name]
        mean[own] = usual * rng.lognormal(0.05 * rng.normal() - spread**2 / 2, spread, own.sum())
    mean *= properties * rng.lognormal(0.0, 0.1)
    large = rng.random(len(pipe)) < _LARGE_SHARE
    use[large] = "commercial"
    mean[large] = _LARGE_L_D * rng.lognormal(0.0, 0.6, int(large.sum()))
    meter = np.full(len(pipe), "", dtype=object)
    read = np.argsort(-mean, kind="stable")[: round(metered_share * len(pipe))]
    meter[read] = [f"C{n:05d}" for n in read]
    return pd.DataFrame(
        {
            "connection_id": [f"K{n:05d}" for n in range(len(pipe))],
            "pipe": pipe,
            "share": rng.uniform(0.02, 0.98, len(pipe)),
            "properties": properties,
            "use_class": use,
            "private_pipe_m": rng.uniform(0.0, 12.0, len(pipe)),
            "meter_id": meter,
            "mean_l_s": mean / 86_400.0,
        }
    )


def _loggers(rng: np.random.Generator, streets: Streets, count: int) -> pd.DataFrame:
    """Well apart, each somewhere along a main."""
    middle = (streets.place_m[streets.start] + streets.place_m[streets.end]) / 2
    chosen = [int(rng.integers(len(middle)))]
    apart = np.full(len(middle), np.inf)
    while len(chosen) < count:
        apart = np.minimum(apart, np.hypot(*(middle - middle[chosen[-1]]).T))
        chosen.append(int(rng.choice(np.argsort(-apart)[: max(1, len(middle) // 20)])))
    return pd.DataFrame(
        {
            "sensor_id": [f"PL-{n + 1:02d}" for n in range(count)],
            "pipe": np.array(chosen, dtype=np.int64),
            "share": rng.uniform(0.1, 0.9, count),
        }
    )
