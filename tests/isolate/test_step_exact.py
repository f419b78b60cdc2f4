"""Tests of `district.isolate.step_exact`."""

from __future__ import annotations

import numpy as np
import pytest

from district.isolate import step_exact
from district.isolate.step_exact import best_of_tree
from district.isolate.step_trees import trees_of, whole
from tests.isolate.step_zones import chance_weighing, chance_zone, every_parting


@pytest.mark.parametrize("seed", range(3))
def test_nothing_known_is_as_good_a_beginning(seed: int) -> None:
    """From the zone in one part, the worst there is, it comes to the best all the same."""
    rng = np.random.default_rng(50 + seed)
    zone = chance_zone(rng, count=7, loops_count=0)
    weighing = chance_weighing(rng, zone)
    (tree,) = trees_of(zone)
    found, proven = best_of_tree(zone, weighing, tree, whole(zone, weighing), steps_count=2)
    best, _ = min(every_parting(zone, weighing, steps_count=2, most_extra_count=0))
    assert proven
    assert found.cost_m == pytest.approx(best, rel=1e-9)
    assert found.gates_count == found.part.max() <= 2


def test_too_many_choices_are_owned_up_to(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(5)
    zone = chance_zone(rng, count=30, loops_count=0)
    weighing = chance_weighing(rng, zone)
    (tree,) = trees_of(zone)
    known = whole(zone, weighing)
    monkeypatch.setattr(step_exact, "MOST_CHOICES", 10)
    assert best_of_tree(zone, weighing, tree, known, steps_count=4) == (known, False)
