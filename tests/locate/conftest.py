"""Networks typed or drawn for locating: pipes in cells, nothing between them."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from scipy.sparse import csr_array, eye_array
from shapely.geometry import LineString, Point

from district.hydraulics import Kind, Model, solve
from district.hydraulics.water import Calibrated, Demands, Drawn
from district.locate.listening import Listening
from district.locate.outlook import DRAWS, Outlook
from district.locate.spots import Heard
from district.network import Network
from district.schema import empty
from district.schema.event_tables import EVENTS
from district.schema.located import CALIBRATION, LOGGER_CHECKS
from district.schema.outputs import ZONES


def pipe_table(rows: int, *, cells: int, seed: int) -> pd.DataFrame:
    random = np.random.default_rng(seed)
    materials = ["cast_iron", "pvc", "asbestos_cement", "ductile_iron", "unknown"]
    year = random.integers(1900, 2020, rows).astype(float)
    return pd.DataFrame(
        {
            "pipe_id": [f"P{i:05d}" for i in range(rows)],
            "cell_id": [f"V{c}" for c in random.integers(0, cells, rows)],
            "length_m": random.uniform(10, 300, rows).round(1),
            "material": random.choice(materials, rows),
            "diameter_mm": random.choice([80.0, 100.0, 150.0, 300.0], rows),
            "installed_year": np.where(random.random(rows) < 0.1, np.nan, year),
            "connections_count": random.integers(0, 12, rows),
        }
    )


def make_network(table: pd.DataFrame) -> Network:
    table = table.copy()
    defaults = {
        "cell_id": "V1",
        "length_m": 100.0,
        "material": "pvc",
        "diameter_mm": 100.0,
        "installed_year": 1980.0,
        "connections_count": 0,
    }
    for name, value in defaults.items():
        if name not in table:
            table[name] = value
    if "layer_pipe_id" not in table:
        table["layer_pipe_id"] = table["pipe_id"]
    count = len(table)
    pipes = gpd.GeoDataFrame(
        table.drop(columns=["pipe_id", "connections_count"]).assign(
            start_position=np.arange(count), end_position=np.arange(count) + 1, roughness=120.0
        ),
        geometry=[LineString([(i, 0), (i + 1, 0)]) for i in range(count)],
        crs=32630,
    )
    pipes.index = pd.Index(table["pipe_id"], name=None)
    owner = np.repeat(np.arange(count), table["connections_count"])
    owners = table["pipe_id"].to_numpy()[owner]
    # Evenly along the pipe, which is drawn 1 m long whatever its length.
    turn = np.arange(len(owner)) - np.searchsorted(owner, owner)
    at = owner + (turn + 0.5) / table["connections_count"].to_numpy()[owner]
    connections = gpd.GeoDataFrame(
        {"pipe_id": owners, "private_pipe_m": 0.0, "meter_id": "", "building_id": ""},
        geometry=[Point(x, 0) for x in at],
        crs=32630,
        index=[f"C{i}" for i in range(len(owners))],
    )
    nodes = gpd.GeoDataFrame(
        {"cut": [""] * (count + 1)},
        geometry=[Point(i, 0) for i in range(count + 1)],
        crs=32630,
    )
    none = gpd.GeoDataFrame({"cell_id": []}, geometry=[], crs=32630)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=pd.DataFrame(index=sorted(table["cell_id"].unique())),
        boundaries=pd.DataFrame(),
        connections=connections,
        valves=none,
        sensors=none,
        sources=none,
        meters=none,
        zones=none,
    )


def make_zones(excess: dict[str, tuple[float, float, float]]) -> pd.DataFrame:
    frame = pd.DataFrame({"cell_id": list(excess)})
    for i, name in enumerate(("excess_l_s", "excess_l_s_low", "excess_l_s_high")):
        frame[name] = [v[i] for v in excess.values()]
    return frame.reindex(columns=list(ZONES.names()))


def make_breaks(rows: list[tuple[str, str]], kind: str = "main") -> pd.DataFrame:
    return pd.DataFrame(
        {
            "date": pd.to_datetime([d for d, _ in rows]),
            "pipe_id": [p for _, p in rows],
            "kind": [kind] * len(rows),
        }
    )


def make_outlook(
    *,
    rows: int = 6,
    columns: int = 8,
    loggers: tuple[int, ...] = (),
    places: tuple[int, ...] = (),
    noise_m: float = 0.05,
    error_l_s: float = 0.05,
    spread_share: float = 0.1,
    seed: int = 0,
) -> Outlook:
    """A zone of streets in a grid, fed at one corner, its heads linear in what is drawn.

    `loggers` and `places` are nodes with a logger and nodes that might get one. Heads follow from
    the Laplacian of random conductances; a leak moves flow from even use to its own place.
    """
    random = np.random.default_rng(seed)
    node = np.arange(rows * columns).reshape(rows, columns)
    start = np.concatenate([node[:, :-1].ravel(), node[:-1].ravel()])
    end = np.concatenate([node[:, 1:].ravel(), node[1:].ravel()])
    pipes, nodes = len(start), rows * columns
    length = random.uniform(40, 160, pipes)
    bore = 1 / length * np.exp(random.normal(0, 0.5, pipes))

    def change(conductance: np.ndarray) -> np.ndarray:
        laplacian = np.zeros((nodes, nodes))
        for a, b, g in zip(start, end, conductance, strict=True):
            laplacian[[a, b, a, b], [a, b, b, a]] += [g, g, -g, -g]
        head = np.zeros((nodes, nodes))
        head[1:, 1:] = -np.linalg.inv(laplacian[1:, 1:])
        moved = head - head.mean(axis=1, keepdims=True)
        watch = moved[[*loggers, *places]] * 0.004
        return (watch[:, start] + watch[:, end]) / 2

    middle = change(bore)
    drawn = [
        change(bore * np.exp(spread_share * random.normal(size=pipes))) - middle
        for _ in range(DRAWS)
    ]
    count = len(loggers) + len(places)
    of_place = [int(np.flatnonzero((start == n) | (end == n))[0]) for n in places]
    heard = Listening(
        tuple(f"L{n}" for n in loggers) + ("",) * len(places),
        np.arange(count),
        np.array([-1] * len(loggers) + of_place, dtype=np.int64),
        middle.astype(np.float32),
        noise_m**2 * (np.eye(count) + 0.2),
        np.array(drawn, dtype=np.float32),
        np.exp(0.1 * np.linspace(-1, 1, DRAWS)),
    )
    rate = length * np.exp(random.normal(0, 0.7, pipes)) / 1e4
    return Outlook(
        "V1",
        tuple(f"P{i:04d}" for i in range(pipes)),
        start,
        end,
        length,
        rate,
        rate[:, None] * np.exp(random.normal(0, 0.3, (pipes, 40))),
        error_l_s,
        0.8 * error_l_s,
        1.3 * error_l_s,
        heard if count else None,
    )


def make_heard(
    *, loggers: tuple[int, ...] = (13, 27, 41), days: int = 28, noise_m: float = 0.05, seed: int = 0
) -> Heard:
    """A grid of 6 by 8 nodes, zone V1, fed at node 0, read hour by hour for some days.

    Pressures are those of the model but for noise by logger and hour; every node has a connection.
    """
    random = np.random.default_rng(seed)
    node = np.arange(48).reshape(6, 8)
    start = np.concatenate([node[:, :-1].ravel(), node[:-1].ravel()])
    end = np.concatenate([node[:, 1:].ravel(), node[1:].ravel()])
    pipes = len(start)
    fixed = np.full(48, np.nan)
    fixed[0] = 60.0
    model = Model(
        node_id=node.ravel(),
        elevation_m=np.zeros(48),
        fixed_head_m=fixed,
        link_id=np.arange(pipes),
        start=start,
        end=end,
        kind=np.full(pipes, int(Kind.PIPE)),
        length_m=random.uniform(60, 140, pipes),
        diameter_mm=random.choice([80.0, 100.0, 150.0], pipes),
        roughness=np.full(pipes, 110.0),
        minor_k=np.zeros(pipes),
        is_open=np.ones(pipes, dtype=bool),
        setting_m=np.full(pipes, np.nan),
        pump=np.full((pipes, 3), np.nan),
    )
    count = len(loggers)
    names = np.array([f"L{n}" for n in loggers], dtype=object)
    watch = csr_array((np.ones(count), (np.arange(count), np.array(loggers))), shape=(count, 48))
    cell = np.full(48, "V1", dtype=object)
    taps = csr_array(eye_array(48))
    drawn = Drawn(model, np.arange(pipes), cell, taps, names, watch, np.zeros(count))
    day, hour = np.divmod(np.arange(24 * days), 24)
    dates = pd.Timestamp("2025-03-03") + pd.to_timedelta(day, unit="D")
    course = 12 * (1 - 0.6 * np.cos(2 * np.pi * (hour - 3) / 24)) * random.normal(1, 0.03, len(day))
    even = csr_array(np.full((1, 48), 1 / 48))
    demands = Demands(
        pd.DataFrame({"day": dates, "hour": hour}),
        np.array(["V1"], dtype=object),
        course[:, None],
        np.zeros((len(day), 48)),
        even,
        even,
        np.array([1.0]),
        np.array([0.3]),
    )
    # Use is even at every hour, so heads follow from its sum alone.
    total = np.linspace(course.min(), course.max(), 30)
    heads = np.array([solve(model, np.full(48, q / 48)).head_m[list(loggers)] for q in total])
    exact = np.array([np.interp(course, total, of_logger) for of_logger in heads.T]).T
    read = exact.reshape(len(day), count) + random.normal(0, noise_m, (len(day), count))
    pressures = pd.DataFrame(
        {
            "device_id": np.repeat(names, len(day)),
            "day": np.tile(dates, count),
            "hour": np.tile(hour, count),
            "pressure_m": read.T.ravel(),
        }
    )
    return Heard(
        Calibrated(
            drawn,
            110 * np.exp(random.normal(0, 0.1, (8, pipes))),
            np.zeros(count),
            empty(CALIBRATION),
            empty(LOGGER_CHECKS),
            np.ones(count, dtype=bool),
        ),
        demands,
        pressures,
    )


@pytest.fixture
def heard_of() -> Callable[..., Heard]:
    return make_heard


@pytest.fixture
def outlook_of() -> Callable[..., Outlook]:
    return make_outlook


@pytest.fixture
def network_of() -> Callable[..., Network]:
    return make_network


@pytest.fixture
def pipes_of() -> Callable[..., pd.DataFrame]:
    return pipe_table


@pytest.fixture
def zones_of() -> Callable[..., pd.DataFrame]:
    return make_zones


@pytest.fixture
def breaks_of() -> Callable[..., pd.DataFrame]:
    return make_breaks


@pytest.fixture
def no_events() -> pd.DataFrame:
    return empty(EVENTS)
