"""Streets in a grid with rates and costs, made without layers or records."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from district.network import Network
from district.renewal_results import PipeRates
from district.schema.renewal_tables import PIPE_COSTS, PIPE_RATES
from district.schema.typed import typed

CRS = 32630
YEAR = 2026
DRAWS = 50


def network_of(lines: Sequence[tuple[str, Sequence[tuple[float, float]]]]) -> Network:
    """A network of (pipe_id, points): a part for each leg of a pipe, ends at one point are one."""
    rows = []
    for pipe_id, points in lines:
        legs = list(pairwise(points))
        for n, (start, end) in enumerate(legs, 1):
            name = pipe_id if len(legs) == 1 else f"{pipe_id}/{n}"
            rows.append((name, pipe_id, start, end))
    places = sorted({p for row in rows for p in row[2:]})
    at = {p: n for n, p in enumerate(places)}
    shapes = [shapely.LineString([start, end]) for *_, start, end in rows]
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": [row[1] for row in rows],
            "start_position": [at[row[2]] for row in rows],
            "end_position": [at[row[3]] for row in rows],
            "length_m": shapely.length(np.array(shapes, dtype=object)),
            "cell_id": "Z1",
        },
        index=[row[0] for row in rows],
        geometry=shapes,
        crs=CRS,
    ).sort_index()
    names = [f"N{n:05d}" for n in range(len(places))]
    nodes = gpd.GeoDataFrame({"cut": ""}, index=names, geometry=shapely.points(places), crs=CRS)
    none = gpd.GeoDataFrame(geometry=[], crs=CRS)
    cells = pd.DataFrame(index=["Z1"])
    return Network(nodes, pipes, cells, pd.DataFrame(), none, none, none, none, none, none)


def row_of(lengths_m: Sequence[float]) -> list[tuple[str, list[tuple[float, float]]]]:
    """Pipes P1, P2, ... in a row from west to east."""
    along = np.concatenate([[0.0], np.cumsum(lengths_m)])
    return [
        (f"P{n + 1}", [(float(along[n]), 0.0), (float(along[n + 1]), 0.0)])
        for n in range(len(lengths_m))
    ]


def mains_table(count: int, **columns: Any) -> pd.DataFrame:
    """Table PIPE_RATES of mains P1, P2, ...: 100 m of cast iron of 60 years unless said."""
    usual: dict[str, Any] = {
        "pipe_id": [f"P{n + 1}" for n in range(count)],
        "material": "cast_iron",
        "diameter_mm": 150.0,
        "installed_year": YEAR - 60.0,
        "age_year": 60.0,
        "length_m": 100.0,
        "cell_id": "Z1",
        "street": "",
        "exposure_km_year": 2.0,
        "breaks_count": 1.0,
        "breaks_per_year": 0.05,
        "growth_per_year": 0.04,
        "rests_on": "breaks",
    }
    table = pd.DataFrame({**usual, **columns}, index=range(count))
    table["breaks_per_100_km_year"] = 1e5 * table["breaks_per_year"] / table["length_m"]
    return typed(table, PIPE_RATES)


def rates_of(
    table: pd.DataFrame,
    *,
    form: str = "exponential",
    growth: float = 0.04,
    spread: float = 0.005,
    draws: int = DRAWS,
) -> PipeRates:
    """Rates with gamma draws about those of the table."""
    rng = np.random.default_rng(5)
    own = rng.gamma(8.0, 1 / 8.0, (len(table), draws))
    rate = table["breaks_per_year"].to_numpy()[:, None] * own
    drawn = growth + spread * rng.standard_normal(draws)
    return PipeRates(table, YEAR, rate.astype(np.float32), form, growth, drawn.astype(np.float32))


def costs_of(pipe_ids: Any, **columns: Any) -> pd.DataFrame:
    """Table PIPE_COSTS with limits 30 % either way unless said."""
    usual: dict[str, Any] = {
        "break_water_m3": 200.0,
        "break_currency": 5000.0,
        "hidden_leak_m3_d": 0.0,
        "hidden_currency": 0.0,
        "renewal_currency": 20_000.0,
    }
    table = pd.DataFrame({"pipe_id": np.asarray(pipe_ids), **usual, **columns})
    for name in usual:
        table[f"{name}_low"] = 0.7 * table[name]
        table[f"{name}_high"] = 1.3 * table[name]
    return typed(table, PIPE_COSTS)


def town(pipes_count: int, *, seed: int = 3, draws: int = 200) -> tuple[Any, Any, Any]:
    """Rates, costs and network of a town of streets in a grid, one main in ten without a street."""
    rng = np.random.default_rng(seed)
    side = int((pipes_count / 2) ** 0.5) + 2
    at = np.cumsum(rng.gamma(4.0, 20.0, (2, side)), axis=1).round(1)
    lines, street = [], []
    for n in range(side):
        for k in range(side - 1):
            lines.append([(at[0, k], at[1, n]), (at[0, k + 1], at[1, n])])
            lines.append([(at[0, n], at[1, k]), (at[0, n], at[1, k + 1])])
            street += [f"East {n}", f"North {n}"]
    keep = np.sort(rng.permutation(len(lines))[:pipes_count])
    named = [(f"P{i + 1}", [tuple(map(float, p)) for p in lines[n]]) for i, n in enumerate(keep)]
    network = network_of(named)
    length = np.array([np.hypot(*np.subtract(*points)) for _, points in named])
    count = len(named)
    material = rng.choice(["cast_iron", "asbestos_cement", "pvc", "ductile_iron"], count)
    age = rng.integers(5, 110, count).astype(float)
    level = pd.Series(material).map(
        {"cast_iron": 0.3, "asbestos_cement": 0.12, "pvc": 0.03, "ductile_iron": 0.05}
    )
    rate = level.to_numpy() * np.exp(0.03 * (age - 50)) * length / 1000 * rng.gamma(2.0, 0.5, count)
    bore = rng.choice([80.0, 100.0, 150.0, 300.0], count)
    names = np.array(street, dtype=object)[keep]
    names[rng.random(count) < 0.1] = ""
    table = mains_table(
        count,
        material=material,
        diameter_mm=bore,
        installed_year=YEAR - age,
        age_year=age,
        length_m=length,
        street=names,
        breaks_count=rng.poisson(20 * rate),
        breaks_per_year=rate,
    )
    rates = rates_of(table, growth=0.03, draws=draws)
    costs = costs_of(
        table["pipe_id"],
        break_currency=rng.lognormal(8.6, 0.5, count),
        hidden_currency=np.where(rng.random(count) < 0.02, 500.0, 0.0),
        hidden_leak_m3_d=np.where(rng.random(count) < 0.02, 3.0, 0.0),
        renewal_currency=length * (150 + 0.8 * bore),
    )
    return rates, costs, network
