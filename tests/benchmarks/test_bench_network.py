"""How long a town of 200,000 pipes takes to build and check, beside one query in the same run.

    python -m pytest tests/benchmarks/test_bench_network.py --benchmark-only -n 0

The reference is the least anybody must do to find what meets what: Shapely's tree of all pipes,
asked once for the pipes near each end. Ratios to it hold when the machine's speed drifts; both are
processor time, so that other work on the machine counts for neither.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from district.check import check_network
from district.network import Network, build_network
from district.results import Inputs
from district.schema import check, empty
from district.schema.columns import Table
from district.schema.inputs import (
    BREAKS,
    CONNECTIONS,
    METERS,
    PIPES,
    SENSORS,
    SOURCES,
    VALVES,
    WORKS,
    ZONES,
)
from district.settings import Settings

CRS = 32630
CORNER = np.array([500_000.0, 5_700_000.0])
SIDE, STRIPS, BLOCK_M = 240, 8, 100.0
PIPES_COUNT = 200_000
MOST_TIMES = 30
"""How many times the reference building and checking may take."""
MOST_MB = 4096
pytestmark = pytest.mark.benchmark(group="200,000 pipes")


def layer(table: Table, **columns: Any) -> gpd.GeoDataFrame:
    frame = gpd.GeoDataFrame(columns, geometry="geometry", crs=CRS)
    tidy, findings = check(table, frame, source=table.name)
    assert findings == ()
    return tidy


def along(lines: Any, share: Any) -> Any:
    return shapely.line_interpolate_point(lines, share, normalized=True)


def town() -> Inputs:
    """Streets in a grid, 8 zones in strips; a fifth of the ends are some centimetres off.

    Mains from junction to junction; diagonals that cross within a block; stubs that tee off the
    middle of a main. A meter and shut valves between strips, open valves on every tenth pipe.
    """
    random = np.random.default_rng(20250301)
    grid = np.stack(np.meshgrid(np.arange(SIDE), np.arange(SIDE), indexing="ij"), axis=-1)
    node = CORNER + BLOCK_M * grid + random.uniform(-9, 9, grid.shape)
    first = np.concatenate([node[:-1].reshape(-1, 2), node[:, :-1].reshape(-1, 2)])
    last = np.concatenate([node[1:].reshape(-1, 2), node[:, 1:].reshape(-1, 2)])
    first, last = (
        ends + random.uniform(-0.15, 0.15, ends.shape) * (random.random((len(ends), 1)) < 0.2)
        for ends in (first, last)
    )
    bend = (first + last) / 2 + random.uniform(-2, 2, first.shape)
    mains = shapely.linestrings(np.stack([first, bend, last], axis=1))

    width = SIDE // STRIPS
    column = np.repeat(np.arange(SIDE - 1), SIDE)  # The mains that run from strip to strip.
    edge = np.flatnonzero((column + 1) % width == 0)
    inner = np.setdiff1d(np.arange(len(mains)), edge)

    blocks = grid[:-1, :-1].reshape(-1, 2)
    blocks = blocks[(blocks[:, 0] + 1) % width != 0]
    i, j = random.permutation(blocks)[:12_000].T
    falling = shapely.linestrings(np.stack([node[i, j + 1], node[i + 1, j]], axis=1))
    rising = shapely.linestrings(np.stack([node[i, j], node[i + 1, j + 1]], axis=1))

    count = PIPES_COUNT - len(mains) - 2 * len(i)
    foot = shapely.get_coordinates(
        along(mains[random.choice(inner, count, replace=False)], random.uniform(0.15, 0.4, count))
    )
    tip = foot + random.uniform(8, 25, foot.shape)
    foot += random.uniform(-0.2, 0.2, foot.shape)
    lines = np.concatenate([mains, rising, falling, shapely.linestrings(np.stack([foot, tip], 1))])

    at_edge = along(mains[edge], 0.5)
    metered = np.arange(len(edge)) % SIDE == SIDE // 2
    strip = column[edge][metered] // width
    opened = along(mains[random.choice(inner, PIPES_COUNT // 10, replace=False)], 0.75)
    shut = at_edge[~metered]
    users = along(lines[random.integers(0, len(lines), PIPES_COUNT // 2)], random.random(100_000))
    west = CORNER[0] - BLOCK_M / 2 + BLOCK_M * width * np.arange(STRIPS)
    south, north = CORNER[1] - BLOCK_M, CORNER[1] + BLOCK_M * SIDE
    return Inputs(
        pipes=layer(
            PIPES,
            pipe_id=[f"P{n}" for n in random.permutation(len(lines))],
            geometry=lines,
            material=random.choice(["pvc", "cast_iron", "steel"], len(lines)),
        ),
        valves=layer(
            VALVES,
            valve_id=[f"V{n}" for n in range(len(opened) + len(shut))],
            geometry=np.concatenate([opened, shut]),
            state=["open"] * len(opened) + ["shut"] * len(shut),
        ),
        meters=layer(
            METERS,
            meter_id=[f"M{n}" for n in strip],
            geometry=at_edge[metered],
            role=["transfer"] * len(strip),
            downstream=[f"Z{n + 1}" for n in strip],
        ),
        zones=layer(
            ZONES,
            zone_id=[f"Z{n}" for n in range(STRIPS)],
            geometry=shapely.box(west, south, west + BLOCK_M * width, north),
        ),
        connections=layer(
            CONNECTIONS,
            connection_id=[f"C{n}" for n in range(len(users))],
            geometry=shapely.points(
                shapely.get_coordinates(users) + random.uniform(-6, 6, (len(users), 2))
            ),
        ),
        sensors=layer(
            SENSORS, sensor_id=["L1"], geometry=shapely.points(node[3, 3:4]), kind=["pressure"]
        ),
        sources=layer(SOURCES, source_id=["S"], geometry=shapely.points(node[0, 0:1])),
        works=empty(WORKS),
        breaks=empty(BREAKS),
        defaults=pd.DataFrame(columns=["table", "column", "rows_count", "value"]),
    )


@pytest.fixture(scope="module")
def inputs() -> Inputs:
    return town()


def pipes_near_ends(inputs: Inputs) -> Any:
    """The reference."""
    lines = inputs.pipes.geometry.to_numpy()
    ends = np.concatenate([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    return shapely.STRtree(lines).query(ends, predicate="dwithin", distance=0.5)


def build_and_check(inputs: Inputs) -> Network:
    settings = Settings()
    network = build_network(inputs, settings=settings)
    check_network(network, inputs, settings=settings)
    return network


def processor_s(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


def test_reference_query(benchmark: Any, inputs: Inputs) -> None:
    benchmark.pedantic(lambda: pipes_near_ends(inputs), rounds=3, warmup_rounds=1)


def test_build_and_check(benchmark: Any, inputs: Inputs) -> None:
    assert len(inputs.pipes) == PIPES_COUNT
    reference, taken = [], []
    networks = []

    def build() -> None:
        taken.append(processor_s(lambda: networks.append(build_and_check(inputs))))

    def ask() -> None:
        networks.clear()
        reference.extend(processor_s(lambda: pipes_near_ends(inputs)) for _ in range(3))

    benchmark.pedantic(build, setup=ask, rounds=2)
    (network,) = networks
    assert set(network.cells.index) == {"supply S", *(f"Z{n}" for n in range(1, STRIPS))}
    told = network.repairs["what"].value_counts()
    assert (told[["tee", "snapped_end", "split_at_device", "crossing"]] > 10_000).all()
    ratio = min(taken) / min(reference)
    benchmark.extra_info["times_the_reference"] = round(ratio, 1)
    # Of this process, in MB, the making of the town included.
    peak_mb = round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    benchmark.extra_info["peak_mb"] = peak_mb
    assert ratio < MOST_TIMES
    assert peak_mb < MOST_MB
