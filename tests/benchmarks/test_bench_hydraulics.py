"""How long a town's heads and flows take, beside its own factorisations in the same run.

    python -m pytest tests/benchmarks/test_bench_hydraulics.py --benchmark-only -n 0 -s

The reference is one factorisation of the town's matrix, timed in the same run: no method that
solves for the heads at once does with less. Both are processor time, so that other work on the
machine counts for neither. The town of 100,000 pipes is solved in a process of its own, whose
memory is its own.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.sparse import csr_array

from district.hydraulics import pattern_of, sensitivity, solve
from district.hydraulics.assembly import factored
from tests.benchmarks.town import town

ROOT = Path(__file__).parents[2]
MOST_TIMES = 3.0
MOST_MB = 4096
LOGGERS = 50


def seconds(work: Callable[[], Any], rounds: int = 5) -> float:
    """Processor time, the median of some rounds."""
    taken = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return float(np.median(taken))


@pytest.mark.benchmark(group="10,000 pipes")
def test_a_balance_of_10_000_pipes(benchmark: Any) -> None:
    model, demand = town(10_000)
    pattern = pattern_of(model)
    state = solve(model, demand, pattern=pattern)
    links, nodes = model.link_id.size, model.node_id.size
    assert abs(links - 10_000) < 200
    assert 2.2 < 2 * links / nodes < 2.6
    assert state.mass_residual_l_s < 1e-8
    assert state.energy_residual_m < 1e-8

    conductance = np.random.default_rng(1).uniform(0.1, 10.0, links)
    one = seconds(lambda: factored(pattern, conductance, conductance, np.zeros(nodes)))
    whole = benchmark.pedantic(
        lambda: seconds(lambda: solve(model, demand, pattern=pattern)), rounds=1
    )
    times = whole / (state.factorisations_count * one)
    warm = solve(model, 1.05 * demand, start=state, pattern=pattern).factorisations_count
    print(
        f"\n{links:,} pipes: {whole:.3f} s, {state.factorisations_count} factorisations of "
        f"{one:.4f} s, ratio {times:.2f} (at most {MOST_TIMES:g}); "
        f"{warm} factorisations after demands rise by 5 %"
    )
    assert times <= MOST_TIMES


@pytest.mark.benchmark(group="10,000 pipes")
def test_the_sensitivities_of_50_loggers(benchmark: Any) -> None:
    """One factorisation and 50 solves by it, each about as long as a tenth of a factorisation."""
    model, demand = town(10_000)
    pattern = pattern_of(model)
    state = solve(model, demand, pattern=pattern)
    nodes = model.node_id.size
    at = np.random.default_rng(1).choice(nodes, LOGGERS, replace=False)
    watch = csr_array((np.ones(LOGGERS), (np.arange(LOGGERS), at)), shape=(LOGGERS, nodes))
    conductance = np.ones(model.link_id.size)
    one = seconds(lambda: factored(pattern, conductance, conductance, np.zeros(nodes)))
    whole = benchmark.pedantic(
        lambda: seconds(lambda: sensitivity(model, state, watch, pattern=pattern)), rounds=1
    )
    print(f"\n{LOGGERS} loggers: {whole:.3f} s, {whole / one:.1f} factorisations of {one:.4f} s")
    assert whole / one < 3 + LOGGERS / 3


_LARGE = """
import resource, time
from district.hydraulics import pattern_of, solve
from tests.benchmarks.town import town
model, demand = town(100_000)
begun = time.process_time()
state = solve(model, demand, pattern=pattern_of(model))
taken = time.process_time() - begun
assert state.mass_residual_l_s < 1e-8 and state.energy_residual_m < 1e-8
mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(model.link_id.size, state.factorisations_count, taken, mb)
"""


@pytest.mark.benchmark(group="100,000 pipes")
def test_100_000_pipes_stay_within_memory(benchmark: Any) -> None:
    run = benchmark.pedantic(
        lambda: subprocess.run(
            [sys.executable, "-c", _LARGE], cwd=ROOT, capture_output=True, text=True, check=False
        ),
        rounds=1,
    )
    assert run.returncode == 0, run.stderr
    links, steps, taken, mb = (float(word) for word in run.stdout.split())
    print(
        f"\n{links:,.0f} pipes: {steps:.0f} factorisations, {taken:.1f} s of processor time, "
        f"{mb:,.0f} MB at most (allowed {MOST_MB:,})"
    )
    assert links > 98_000
    assert mb < MOST_MB
