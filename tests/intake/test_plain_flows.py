from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.clean import resolution
from district.intake.plain_flows import resolutions


def test_resolutions_of_rising_values_are_those_of_each() -> None:
    rng = np.random.default_rng(8)
    each = [np.array([5.0]), np.full(9, 2.5), np.array([1e16, 3e16, 4e16])]
    for decimals, count, step in ((0, 30, 1), (2, 40, 1), (3, 5, 1), (2, 60, 25), (9, 20, 1)):
        steps = rng.integers(0, 9, count) * step
        each.append(np.round(np.cumsum(steps) * 10.0**-decimals, decimals))
    start = np.cumsum([0, *map(len, each)])[:-1]
    found = resolutions(np.concatenate(each), start)
    for one, step in zip(each, found, strict=True):
        assert step == pytest.approx(resolution(one), rel=1e-12, nan_ok=True)
    assert math.isnan(found[0])
    assert len(resolutions(np.zeros(0), np.zeros(0, dtype=int))) == 0
