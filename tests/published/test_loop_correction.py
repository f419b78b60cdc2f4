"""The correction of Hardy Cross, on one loop worked by hand.

The formula, dQ = -sum(h) / (1.85 sum(h/Q)) with clockwise flows positive, was seen in "Chapter 13
Pipe Networks", 13.1, scribd.com/document/366211691. A classic example with all its published final
flows is missing; the loop below is our own, its corrections worked here by that formula, and the
solver must end where they end.
"""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import solve
from district.hydraulics.head_loss import head_lost, losses_of
from tests.hydraulics.networks import network

EXPONENT = 1.85
"""Of the formula; ours is 1.852, which changes how fast it comes home, not where."""
CLOCKWISE = np.array([1.0, 1.0, -1.0, -1.0])


def test_the_corrections_come_home_to_the_solver_s_flows() -> None:
    """60 L/s in at a corner of a square; 20, 25 and 15 L/s out at the others."""
    model = network(
        {0: 80.0}, [0.0] * 4, [(0, 1), (1, 2), (0, 3), (3, 2)],
        length_m=[300.0, 200.0, 200.0, 300.0], diameter_mm=[200.0, 150.0, 200.0, 150.0],
        roughness=120.0,
    )  # fmt: skip
    demand = np.array([0.0, 20.0, 25.0, 15.0])
    losses = losses_of(model)
    flow = np.array([35.0, 15.0, 25.0, 10.0])
    corrections = []
    for _ in range(20):
        lost = head_lost(losses, flow).head_m
        correction = -(CLOCKWISE @ lost) / (EXPONENT * (lost / flow).sum())
        corrections.append(correction)
        flow = flow + CLOCKWISE * correction
    # By hand: h = 10.667 L Q^1.852/(C^1.852 D^4.871) gives 2.306, 1.300, 0.824, 0.920 m, and
    # -1.861 / (1.85 (0.06588 + 0.08664 + 0.03297 + 0.09200)) = -3.625 L/s.
    assert corrections[0] == pytest.approx(-3.625, abs=0.005)
    assert abs(corrections[-1]) < 1e-9
    assert solve(model, demand).flow_l_s == pytest.approx(flow, abs=1e-7)
