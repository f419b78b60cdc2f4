"""Where leaks and breaks fall, and how each leak runs: from a hazard no stage knows."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry import Point

from district.simulate.clock import Clock, utc_of
from district.simulate.layout import Layout, ground_m
from district.simulate.story import SEEDS, Seed

BREAK_YEARS = 24
_BREAKS_KM_YEAR = 0.13
"""District mean of the hidden break rate."""
_APART_M = 150.0
_HAZARD = {
    "cast_iron": 2.6,
    "asbestos_cement": 1.5,
    "steel": 1.3,
    "ductile_iron": 0.7,
    "pvc": 0.45,
    "polyethylene": 0.3,
}
EXPONENT = {
    "cast_iron": 0.8,
    "asbestos_cement": 0.95,
    "steel": 0.9,
    "ductile_iron": 0.7,
    "pvc": 1.4,
    "polyethylene": 1.3,
}
"""How a leak's flow follows pressure, by material (the span surveys find, 0.5 to 1.5)."""


def hidden_hazard(layout: Layout, rng: np.random.Generator) -> pd.Series:
    """Breaks a year of each layer pipe, by pipe_id: material, age, bore, and chance."""
    pipes = layout.pipes
    age = 2025 - pipes["installed_year"].to_numpy(dtype=float)
    by_age = 0.4 + (age / 55) ** 1.3
    by_bore = (110 / pipes["diameter_mm"].to_numpy(dtype=float)).clip(0.35, 1.5) ** 0.8
    ground = rng.gamma(2.2, 1 / 2.2, len(pipes))
    rate = pipes["material"].map(_HAZARD).to_numpy() * by_age * by_bore * ground
    expected = rate * pipes.geometry.length.to_numpy() / 1000
    total_km = pipes.geometry.length.sum() / 1000
    scaled = expected * _BREAKS_KM_YEAR * total_km / expected.sum()
    return pd.Series(scaled, index=pipes["pipe_id"], name="breaks_per_year")


def past_breaks(layout: Layout, hazard: pd.Series, rng: np.random.Generator) -> pd.DataFrame:
    """Breaks of the years before the record (table `inputs.BREAKS`), by date."""
    rows = []
    for pipe in layout.pipes.itertuples():
        first = max(2025 - BREAK_YEARS, int(pipe.installed_year) + 1)
        years = max(0, 2025 - first)
        for _ in range(rng.poisson(hazard[pipe.pipe_id] * years)):
            day = pd.Timestamp(first, 1, 1) + pd.Timedelta(days=int(rng.integers(years * 365)))
            kind = "main" if rng.random() < 0.8 else "service"
            rows.append((day, pipe.pipe_id, kind))
    frame = pd.DataFrame(rows, columns=["date", "pipe_id", "kind"])
    return frame.sort_values(["date", "pipe_id"], ignore_index=True)


def place_leaks(layout: Layout, hazard: pd.Series, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """One row a seeded underground leak.

    Index seed id; pipe_id, zone_id, material, share (how far along the pipe), elevation_m,
    exponent, geometry (a point on the pipe). Drawn on the zone's own mains by hazard; two in a
    zone lie well apart.
    """
    pipes = layout.pipes[layout.pipes["part"] != "link"]
    rows: list[dict[str, object]] = []
    placed: dict[str, list[Point]] = {}
    for seed in SEEDS:
        if seed.what != "leak":
            continue
        apart = [pipes.distance(point) > _APART_M for point in placed.get(seed.zone_id, [])]
        free = np.logical_and.reduce([pipes["zone_id"] == seed.zone_id, *apart])
        own = pipes[free]
        chance = hazard.loc[own["pipe_id"]].to_numpy()
        pipe = own.iloc[int(rng.choice(len(own), p=chance / chance.sum()))]
        share = float(rng.uniform(0.15, 0.85))
        point = pipe.geometry.interpolate(share, normalized=True)
        placed.setdefault(seed.zone_id, []).append(point)
        rows.append(
            {
                "seed_id": seed.seed_id,
                "pipe_id": pipe["pipe_id"],
                "zone_id": seed.zone_id,
                "material": pipe["material"],
                "share": share,
                "exponent": EXPONENT[str(pipe["material"])],
                "geometry": point,
            }
        )
    frame = gpd.GeoDataFrame(rows, geometry="geometry", crs=layout.pipes.crs)
    frame["elevation_m"] = ground_m(frame.geometry) - 1.0
    return frame.set_index("seed_id")


def course(seed: Seed, clock: Clock) -> NDArray[np.float64]:
    """The seed's flow (or share) in each quarter hour, at its reference pressure.

    >>> from datetime import date
    >>> from district.simulate.clock import clock_of
    >>> from district.simulate.scenario import Scenario
    >>> clock = clock_of(Scenario(first=date(2025, 7, 9), days=1))
    >>> float(course(SEEDS[0], clock)[5]), float(course(SEEDS[0], clock)[6])
    (0.0, 1.2)
    """
    at = pd.DatetimeIndex([utc_of(time) for time, _ in seed.knots]).as_unit("ns").asi8
    flow = np.array([value for _, value in seed.knots])
    now = clock.utc.asi8
    if seed.shape == "growing":
        return np.asarray(np.interp(now, at, flow, left=0.0), dtype=float)
    before = np.searchsorted(at, now, side="right") - 1
    return np.asarray(np.where(before >= 0, flow[before.clip(0)], 0.0), dtype=float)
