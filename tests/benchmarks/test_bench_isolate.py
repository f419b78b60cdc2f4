"""All segments of a town of 100,000 pipes and 40,000 valves, and one plan to shut off a pipe.

    python -m pytest tests/benchmarks/test_bench_isolate.py --benchmark-only -n 0 -s

The reference is SciPy's connected components over the same nodes and pipes, links laid out anew:
the least that anybody must do to find what hangs together. Ratios to it hold when the machine's
speed drifts; all are processor time, so that other work on the machine counts for nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

from district.isolate import (
    Segments,
    new_valves,
    pipes_target,
    plan_shut_off,
    segment_losses,
    segments_of,
    valve_losses,
)
from district.network import Network
from district.settings import Settings

CRS = 32630
PIPES_COUNT, VALVES_COUNT, HOUSES_COUNT = 100_000, 40_000, 60_000
BLOCK_M = 80.0
MOST_S, MOST_PLAN_S = 10.0, 0.2
MOST_TIMES, MOST_PLAN_TIMES = 400, 10
pytestmark = pytest.mark.benchmark(group="100,000 pipes and 40,000 valves")


def town() -> Network:
    """Streets in a grid of which a tree and a third of the rest are there; a valve near one end of
    two pipes in five, one in forty of them shut; three sources, a house for every other pipe."""
    rng = np.random.default_rng(20_250_611)
    side = round((PIPES_COUNT / 1.3) ** 0.5)
    node = np.arange(side * side).reshape(side, side)
    streets = np.concatenate(
        [
            np.column_stack([node[:, :-1].ravel(), node[:, 1:].ravel()]),
            np.column_stack([node[:-1].ravel(), node[1:].ravel()]),
        ]
    )
    weight = csr_array(
        (rng.uniform(1, 2, len(streets)), (streets[:, 0], streets[:, 1])), shape=(side**2, side**2)
    )
    tree = minimum_spanning_tree(weight).tocoo()
    key = streets[:, 0] * side**2 + streets[:, 1]
    needed = np.isin(key, tree.coords[0].astype(np.int64) * side**2 + tree.coords[1])
    spare = rng.permutation(np.flatnonzero(~needed))[: PIPES_COUNT - int(needed.sum())]
    streets = streets[np.sort(np.concatenate([np.flatnonzero(needed), spare]))]
    at = BLOCK_M * np.column_stack(np.divmod(np.arange(side**2), side)).astype(float)
    valved = np.sort(rng.choice(len(streets), VALVES_COUNT, replace=False))
    first, last = streets.T
    share = 0.05
    spot = at[first[valved]] + share * (at[last[valved]] - at[first[valved]])
    added = side**2 + np.arange(VALVES_COUNT)
    whole = np.setdiff1d(np.arange(len(streets)), valved)
    start = np.concatenate([first[whole], first[valved], added])
    end = np.concatenate([last[whole], added, last[valved]])
    names = [
        *(f"P{n:06}" for n in whole),
        *(f"P{n:06}/1" for n in valved),
        *(f"P{n:06}/2" for n in valved),
    ]
    order = np.argsort(names)
    places = np.concatenate([at, spot])
    lines = shapely.linestrings(np.stack([places[start], places[end]], axis=1))
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": [name.split("/")[0] for name in names],
            "start_position": start,
            "end_position": end,
            "length_m": shapely.length(lines),
            "diameter_mm": rng.choice([100.0, 150.0, 300.0], len(names)),
            "cell_id": "Z1",
        },
        index=names,
        geometry=lines,
        crs=CRS,
    ).iloc[order]
    houses = rng.integers(0, len(pipes), HOUSES_COUNT)
    shown = pipes.geometry.to_numpy()[houses]
    feeds = pipes.index[np.linspace(0, len(pipes) - 1, 3).astype(int)]
    return Network(
        nodes=gpd.GeoDataFrame(
            {"cut": ""}, index=[f"N{n}" for n in range(len(places))],
            geometry=shapely.points(places), crs=CRS,
        ),
        pipes=pipes,
        cells=pd.DataFrame(index=["Z1"]),
        boundaries=pd.DataFrame(),
        connections=gpd.GeoDataFrame(
            {
                "pipe_id": pipes.index.to_numpy()[houses],
                "properties": rng.integers(1, 4, HOUSES_COUNT),
                "use_class": "household",
                "critical": rng.random(HOUSES_COUNT) < 0.002,
                "meter_id": "",
                "building_id": "",
            },
            index=[f"C{n:06}" for n in range(HOUSES_COUNT)],
            geometry=shapely.line_interpolate_point(shown, 0.5, normalized=True),
            crs=CRS,
        ),
        valves=gpd.GeoDataFrame(
            {
                "kind": "isolation",
                "state": np.where(rng.random(VALVES_COUNT) < 0.025, "shut", "open"),
                "operable": rng.random(VALVES_COUNT) > 0.05,
                "pipe_id": [f"P{n:06}/1" for n in valved],
                "cell_id": "Z1",
            },
            index=[f"V{n:05}" for n in range(VALVES_COUNT)],
            geometry=shapely.points(spot),
            crs=CRS,
        ),
        sensors=gpd.GeoDataFrame({"kind": [], "pipe_id": []}, geometry=[], crs=CRS),
        sources=gpd.GeoDataFrame(
            {"pipe_id": feeds},
            index=["S1", "S2", "S3"],
            geometry=[shapely.Point(pipes.geometry[p].coords[0]) for p in feeds],
            crs=CRS,
        ),
        meters=gpd.GeoDataFrame(geometry=[], crs=CRS),
        zones=gpd.GeoDataFrame(geometry=[], crs=CRS),
    )  # fmt: skip


@pytest.fixture(scope="module")
def network() -> Network:
    return town()


def processor_s(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


def parts(network: Network) -> int:
    """The reference."""
    ends = [network.pipes[c].to_numpy() for c in ("start_position", "end_position")]
    size = len(network.nodes)
    links = csr_array((np.ones(len(ends[0])), tuple(ends)), shape=(size, size))
    return int(connected_components(links, directed=False)[0])


def everything(network: Network) -> tuple[Segments, pd.DataFrame, pd.DataFrame]:
    segments = segments_of(network, settings=Settings())
    return segments, segment_losses(segments), valve_losses(segments)


def test_all_segments_and_valves(benchmark: Any, network: Network) -> None:
    unit = min(processor_s(lambda: parts(network)) for _ in range(5))
    taken: list[float] = []
    found: list[Any] = []

    def work() -> None:
        found.clear()
        taken.append(processor_s(lambda: found.append(everything(network))))

    benchmark.pedantic(work, rounds=2)
    segments, by_segment, by_valve = found[0]
    better = processor_s(lambda: new_valves(network, segments))
    print(
        f"\n{len(network.pipes)} parts of pipes, {len(segments.table)} segments, {len(by_valve)} "
        f"valves: {min(taken):.1f} s, {min(taken) / unit:.0f} times the reference "
        f"({unit * 1000:.0f} ms); five new valves {better:.1f} s more"
    )
    assert len(network.pipes) == PIPES_COUNT + VALVES_COUNT
    assert len(by_segment) > 10_000
    assert (by_segment["unintended_properties_count"] > 0).sum() > 1_000
    assert min(taken) < MOST_S
    assert min(taken) < MOST_TIMES * unit


def test_one_plan(benchmark: Any, network: Network) -> None:
    unit = min(processor_s(lambda: parts(network)) for _ in range(5))
    segments, by_segment, _ = everything(network)
    taken: list[float] = []
    counts: list[int] = []
    worst = by_segment.nlargest(20, "unintended_length_m")["segment_id"]
    chosen = [*worst[:5], *by_segment["segment_id"].iloc[:: len(by_segment) // 20]]

    def work() -> None:
        for segment_id in chosen:
            plans: list[Any] = []

            def one(pipe_id: str = segment_id, into: list[Any] = plans) -> None:
                target = pipes_target(network, segments, [pipe_id])
                into.append(plan_shut_off(network, segments, target))

            taken.append(processor_s(one))
            counts.append(int((plans[0].valves["action"] == "shut").sum()))

    benchmark.pedantic(work, rounds=1)
    middle = float(np.median(taken))
    print(
        f"\none plan {middle * 1000:.0f} ms in the middle, {max(taken) * 1000:.0f} ms at most of "
        f"{len(taken)} ({min(counts)} to {max(counts)} valves), "
        f"{middle / unit:.1f} times the reference ({unit * 1000:.0f} ms)"
    )
    assert max(taken) < MOST_PLAN_S
    assert middle < MOST_PLAN_TIMES * unit
