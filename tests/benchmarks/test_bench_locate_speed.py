"""How long it takes to locate one event, beside plain numpy and beside one sparse factorisation.

    OMP_NUM_THREADS=1 python -m pytest tests/benchmarks/test_bench_locate_speed.py \\
        --benchmark-only -n 0 -s

A search without loggers stands beside the least that limits need: 200 draws of every pipe's share,
sorted. One with loggers stands beside a factorisation of the zone's own matrix by SciPy. Both are
processor time of the same run, so that other work on the machine counts for neither.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from district.locate import locate_leaks
from district.network import Network
from district.schema.event_tables import EVENTS
from district.settings import Settings
from district.simulate import LeakTrial, draw_leak_trials
from tests.benchmarks.search_trials import heard_by
from tests.locate.conftest import make_breaks, make_network, make_zones, pipe_table

MOST_TIMES = 100
"""How many times plain numpy a search of one zone without loggers may take."""
MOST_FACTORISATIONS = 5_000
"""How many sparse factorisations of the zone the search with 20 loggers may take."""
pytestmark = pytest.mark.benchmark(group="locate")


def processor_s(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


def one_leak() -> pd.DataFrame:
    leak = {
        "event_id": "E1",
        "place_kind": "zone",
        "place_id": "V0",
        "kind": "leak",
        "state": "open",
        "start": pd.Timestamp("2024-03-01"),
        "size_l_s": 0.5,
        "size_l_s_low": 0.4,
        "size_l_s_high": 0.6,
    }
    return pd.DataFrame([leak]).reindex(columns=list(EVENTS.names()))


def drawn_limits(count: int) -> None:
    """The reference: shares of 200 draws, sorted."""
    draws = np.random.default_rng(1).standard_gamma(2.0, (count, 200), dtype=np.float32)
    np.sort(draws / draws.sum(axis=0), axis=1)


@pytest.mark.parametrize("count", [1_000, 10_000])
def test_without_loggers(benchmark: Any, count: int) -> None:
    network: Network = make_network(pipe_table(count, cells=1, seed=3))
    breaks = make_breaks([(f"20{y}-03-01", f"P{7 * y:05d}") for y in range(10, 24)])
    zones, events = make_zones({"V0": (0.6, 0.3, 0.9)}), one_leak()

    def locate() -> object:
        return locate_leaks(network, breaks, zones, events, settings=Settings(), year=2024)

    taken: list[float] = []
    benchmark.pedantic(lambda: taken.append(processor_s(locate)), rounds=3, warmup_rounds=1)
    reference = min(processor_s(lambda: drawn_limits(count)) for _ in range(5))
    ratio = min(taken) / reference
    benchmark.extra_info |= {
        "pipes": count,
        "seconds": round(min(taken), 3),
        "times_plain_numpy": round(ratio, 1),
    }
    print(benchmark.extra_info)
    assert ratio < MOST_TIMES


def factorisation_s(trial: LeakTrial) -> float:
    """One factorisation of the zone's Laplacian, the least any solution of its heads needs."""
    pipes = trial.network.pipes
    start, end = (pipes[c].to_numpy() for c in ("start_position", "end_position"))
    count = len(trial.network.nodes)
    joined = coo_array((np.ones(len(pipes)), (start, end)), shape=(count, count)).tocsr()
    joined = joined + joined.T
    matrix = csc_array(diags_array(joined.sum(axis=0) + 1.0) - joined)
    splu(matrix)
    return min(processor_s(lambda: [splu(matrix) for _ in range(20)]) for _ in range(3)) / 20


def test_with_twenty_loggers(benchmark: Any) -> None:
    (trial,) = draw_leak_trials(77, pipes_count=1_000, loggers_count=20, leak_l_s=1.0)
    heard = heard_by(trial)

    def locate() -> object:
        return locate_leaks(
            trial.network,
            trial.breaks,
            trial.zones,
            trial.events,
            settings=trial.settings,
            year=trial.year,
            heard=heard,
        )

    taken: list[float] = []
    benchmark.pedantic(lambda: taken.append(processor_s(locate)), rounds=2, warmup_rounds=1)
    times = min(taken) / factorisation_s(trial)
    benchmark.extra_info |= {
        "pipes": len(trial.network.pipes),
        "seconds": round(min(taken), 2),
        "times_one_factorisation": round(times),
    }
    print(benchmark.extra_info)
    assert times < MOST_FACTORISATIONS
