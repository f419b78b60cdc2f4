"""Tests of `district.isolate.step_split`, against every parting of small zones one by one."""

from __future__ import annotations

import numpy as np
import pytest

from district.isolate.step_split import split
from tests.isolate.step_zones import chance_weighing, chance_zone, every_parting


@pytest.mark.parametrize("seed", range(6))
def test_without_loops_the_best_is_found_and_proven(seed: int) -> None:
    rng = np.random.default_rng(seed)
    zone = chance_zone(rng, count=7, loops_count=0, kept_count=seed % 2)
    weighing = chance_weighing(rng, zone, flow_l_s=(0.1, 0.5)[seed % 2])
    found = split(zone, weighing, steps_count=3, most_extra_count=0)
    best, _ = min(every_parting(zone, weighing, steps_count=3, most_extra_count=0))
    assert found.proven
    assert found.parting.cost_m == pytest.approx(best, rel=1e-9)


def test_with_loops_it_is_the_best_or_near() -> None:
    over = []
    for seed in range(12):
        rng = np.random.default_rng(100 + seed)
        zone = chance_zone(rng, count=7, loops_count=4, kept_count=seed % 2)
        weighing = chance_weighing(rng, zone)
        extra = int(rng.integers(0, 5))
        found = split(zone, weighing, steps_count=2, most_extra_count=extra)
        best, _ = min(every_parting(zone, weighing, steps_count=2, most_extra_count=extra))
        assert found.parting.extra_count() <= extra
        assert not (found.parting.part[zone.kept] != 0).any()
        over.append(found.parting.cost_m / best - 1)
    assert min(over) >= -1e-9
    assert np.mean(np.array(over) < 1e-9) >= 0.9
    assert max(over) < 0.05


def test_where_all_must_stay_fed_there_is_no_step() -> None:
    rng = np.random.default_rng(3)
    zone = chance_zone(rng, count=6, loops_count=2, kept_count=6)
    found = split(zone, chance_weighing(rng, zone), steps_count=4, most_extra_count=9)
    assert not found.parting.part.any()
