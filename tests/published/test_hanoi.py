"""The Hanoi network: Fujiwara & Khang 1990, Water Resour Res 26(4) 539-549.

Heads of two designs as the literature prints them (from memory, high): that of cost 6.081 million,
and that of 6.073 million (Savic & Walters 1997), of which nodes 2 to 13 are recalled. They agree
to 0.005 m with the constant 10.667 of the Hazen-Williams formula.
"""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import solve
from tests.published.loop_networks import HANOI_DESIGNS_INCH, HANOI_LENGTHS_M, INCH_MM, hanoi

PRINTED_M = {
    "6.081 million": [
        97.14, 61.67, 56.92, 51.02, 44.81, 43.35, 41.61, 40.23, 39.20, 37.64, 34.21, 30.01, 35.52,
        33.72, 31.30, 33.41, 49.93, 55.09, 50.61, 41.26, 36.10, 44.52, 38.93, 35.34, 31.70, 30.76,
        38.94, 30.13, 30.42, 30.70, 33.18,
    ],
    "6.073 million": [
        97.14, 61.67, 56.88, 50.94, 44.68, 43.21, 41.45, 40.04, 39.00, 37.44, 34.01, 29.80,
    ],
}  # fmt: skip
COSTS = {"6.081 million": 6_081_128, "6.073 million": 6_072_619}


@pytest.mark.parametrize("design", PRINTED_M)
def test_heads_are_as_printed(design: str) -> None:
    model, demand = hanoi(design)
    printed = PRINTED_M[design]
    assert solve(model, demand).head_m[1 : len(printed) + 1] == pytest.approx(printed, abs=0.0055)


@pytest.mark.parametrize("design", COSTS)
def test_the_design_typed_has_the_published_cost(design: str) -> None:
    """Cost 1.1 D^1.5 L with D in inches (from memory, high), so the data are typed right."""
    bores = np.array(HANOI_DESIGNS_INCH[design], dtype=float)
    cost = (1.1 * bores**1.5 * np.array(HANOI_LENGTHS_M)).sum()
    assert cost == pytest.approx(COSTS[design], abs=1.0)
    assert hanoi(design)[0].diameter_mm == pytest.approx(bores * INCH_MM)


def test_regression_flows_where_loops_meet() -> None:
    """Our own figures in m3/h; no published ones are at hand."""
    model, demand = hanoi("6.081 million")
    flows = solve(model, demand).flow_l_s * 3.6
    assert flows[[15, 18, 27, 30]] == pytest.approx(
        [-119.491, -2389.491, -115.261, -54.026], abs=2e-3
    )
