"""How long a model of 1,000 pipes and 20 loggers takes to fit, beside one pass over its states.

    python -m pytest tests/benchmarks/test_bench_calibration.py --benchmark-only -n 0

The reference is what every step of the fit must do at least once: solve the states of the day, each
with the slopes of the loggers' heads. Both are processor time of the same run.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

from district.hydraulics import calibrate
from district.hydraulics.calibration import STATES
from district.hydraulics.slopes import slopes_at
from district.hydraulics.states import day_states
from tests.hydraulics.known_zone import known_zone

ACROSS, LOGGERS = 27, 20
MOST_TIMES = 15
"""How many passes over the states fitting may take: a few steps, and what the errors take to
learn."""
pytestmark = pytest.mark.benchmark(group="fit of 1,000 pipes, 20 loggers")


def _cost_s(work: Callable[[], Any]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def test_fitting_takes_a_few_passes_over_the_states(benchmark: Any) -> None:
    zone = known_zone(1, across=ACROSS, loggers=LOGGERS, use_l_s=10.0)
    assert len(zone.drawn.model.link_id) > 1000
    seen = day_states(zone.drawn, zone.demands, zone.pressures, states_count=STATES)

    def one_pass() -> None:
        slopes_at(zone.drawn, seen, zone.drawn.model.roughness)

    one_pass()
    once_s = min(_cost_s(one_pass) for _ in range(3))
    whole_s = benchmark.pedantic(
        lambda: _cost_s(lambda: calibrate(zone.drawn, zone.demands, zone.pressures)),
        rounds=1,
    )
    ratio = whole_s / once_s
    print(f"\nfit {whole_s:.2f} s, one pass {once_s:.2f} s, {ratio:.1f} times")
    assert ratio < MOST_TIMES
