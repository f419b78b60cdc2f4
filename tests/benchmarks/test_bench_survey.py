"""How near the walk comes to the shortest there is, and how long it takes to find.

    OMP_NUM_THREADS=1 pytest tests/benchmarks/test_bench_survey.py --benchmark-only -n 0 -s

Pieces are drawn from grids of streets. Up to seven are held against every order and direction;
more against SciPy's integer program (HiGHS), which proves its round the shortest. Time is told
as a ratio to one `dijkstra` from the ends of all pieces over the same town, the least that anybody
must do to know how far they are apart.
"""

from __future__ import annotations

import os
import time
from typing import Any

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from district.survey.round import shortest_round, steps_between, walked_m
from tests.survey.scenes import grid_apart
from tests.survey.test_round import least_by_integer_program_m, shortest_of_all_m

TRIALS = int(os.environ.get("DISTRICT_BENCH_TRIALS", "24"))
MOST_TIMES_LONGER = 1.05
MOST_TIMES_DIJKSTRA = 60
pytestmark = pytest.mark.benchmark(group="the shortest walk")


def told(ratios: list[float], against: str) -> None:
    shown = np.quantile(ratios, [0.5, 0.9, 1.0])
    print(
        f"\n{len(ratios)} walks against {against}: length over the shortest, median "
        f"{shown[0]:.4f}, nine in ten {shown[1]:.4f}, most {shown[2]:.4f}; "
        f"{np.mean(np.array(ratios) < 1 + 1e-6):.0%} are the shortest"
    )


def test_against_every_order(benchmark: Any) -> None:
    def run() -> list[float]:
        found = []
        for seed in range(TRIALS):
            steps = steps_between(grid_apart(6, 4 + seed % 4, 1000 + seed))
            best = shortest_of_all_m(steps)
            found.append(walked_m(steps, shortest_round(steps)) / max(best, 1e-9) if best else 1.0)
        return found

    ratios = benchmark.pedantic(run, rounds=1)
    told(ratios, "every order and direction of 4 to 7 pieces")
    assert max(ratios) <= MOST_TIMES_LONGER


@pytest.mark.parametrize("pieces", [15, 30, 45])
def test_against_an_integer_program(benchmark: Any, pieces: int) -> None:
    count = max(TRIALS // 3, 2)

    def run() -> list[float]:
        found = []
        for seed in range(count):
            apart = grid_apart(12, pieces, 2000 + seed)
            steps = steps_between(apart)
            found.append(walked_m(steps, shortest_round(steps)) / least_by_integer_program_m(apart))
        return found

    ratios = benchmark.pedantic(run, rounds=1)
    told(ratios, f"an integer program of {pieces} pieces")
    assert max(ratios) <= MOST_TIMES_LONGER


def test_how_long_it_takes(benchmark: Any) -> None:
    pieces, side = 200, 150
    random = np.random.default_rng(5)
    node = np.arange(side**2).reshape(side, side)
    across = np.column_stack([node[:, :-1].ravel(), node[:, 1:].ravel()])
    ends = np.concatenate([across, np.column_stack([node[:-1].ravel(), node[1:].ravel()])])
    length = random.uniform(20, 150, len(ends))
    links = csr_array((length, (ends[:, 0], ends[:, 1])), shape=(side**2, side**2))
    chosen = ends[random.choice(len(ends), pieces, replace=False)].ravel()
    terminals = np.append(chosen, 0)
    began = time.process_time()
    apart = dijkstra(links, directed=False, indices=terminals)[:, terminals]
    reference = time.process_time() - began
    steps = steps_between(np.minimum(apart, apart.T))
    began = time.process_time()
    benchmark.pedantic(lambda: shortest_round(steps), rounds=1)
    takes = time.process_time() - began
    print(f"\n{pieces} pieces: {takes:.1f} s, {takes / reference:.1f} times Dijkstra's distances")
    assert takes <= MOST_TIMES_DIJKSTRA * reference
