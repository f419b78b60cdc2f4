"""Three loops under Darcy-Weisbach: an industrial park of 10 pipes.

Data and first iteration seen at scribd.com/document/485045475 (worksheet of 17 December 2015);
likely example 4.8 of Hwang & Houghtalen, Fundamentals of Hydraulic Engineering Systems (from
memory). The final iteration was not visible: converged flows are derived from the stated formulas.
"""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import solve
from district.hydraulics.head_loss import head_lost, losses_of
from tests.published.loop_networks import PARK_PIPES, park

FIRST_TRIAL_L_S = [200, 100, 80, 120, 70, 30, 100, 50, 50, 100]
PRINTED_K = [199, 434, 1948, 690, 1955, 722, 1662, 3148, 1976, 3111]
"""s2/m5: head lost = K Q^2 with Q in m3/s, of the first trial."""
PRINTED_LOST_M = [7.95, 4.34, 12.47, 9.94, 9.58, 0.65, 16.62, 7.87, 4.94, 31.11]
LOOPS = [
    {"1": 1, "3": 1, "2": -1, "4": -1, "8": -1},
    {"5": 1, "7": 1, "3": -1, "6": -1},
    {"6": 1, "10": 1, "8": 1, "9": -1},
]
"""Pipes of each loop and the way it runs through them; pipe 8 runs from E to G."""
PRINTED_ROWS = [[979.03, -165.60, -314.81], [-165.60, 794.35, -273.72], [-314.81, -273.72, 1408.23]]
PRINTED_MISSED_M = [10.94, 6.40, -43.62]
PRINTED_CORRECTIONS_M3_S = [0.00066, -0.00261, -0.03133]


def test_first_trial_resistances_and_losses() -> None:
    """The worksheet's friction factors are explicit (Swamee-Jain) and within 1 % of Colebrook's."""
    model, _ = park()
    flow = np.array(FIRST_TRIAL_L_S, dtype=float)
    bore = model.diameter_mm / 1000.0
    re = 4 * flow / 1000.0 / (np.pi * bore * 1e-6)
    explicit = 0.25 / np.log10(0.26 / model.diameter_mm / 3.7 + 5.74 / re**0.9) ** 2
    typed = explicit * model.length_m * 8 / (9.81 * np.pi**2 * bore**5)
    assert typed == pytest.approx(PRINTED_K, rel=0.0005, abs=0.55)
    lost = head_lost(losses_of(model), flow).head_m
    assert lost / (flow / 1000.0) ** 2 == pytest.approx(PRINTED_K, rel=0.01)
    assert lost == pytest.approx(PRINTED_LOST_M, rel=0.01)


def test_first_trial_in_the_loops() -> None:
    """The corrections of the worksheet's three linear equations, with our losses and slopes.

    Its slopes are those of a constant friction factor, 2 K Q.
    """
    model, _ = park()
    flow = np.array(FIRST_TRIAL_L_S, dtype=float)
    lost = head_lost(losses_of(model), flow).head_m
    runs = np.array([[loop.get(p, 0) for p in PARK_PIPES] for loop in LOOPS], dtype=float)
    slope = 2.0 * lost / (flow / 1000.0)
    rows = runs @ np.diag(slope) @ runs.T
    missed = -runs @ lost
    assert rows == pytest.approx(np.array(PRINTED_ROWS), rel=0.007)
    assert missed == pytest.approx(PRINTED_MISSED_M, abs=0.2)
    assert np.linalg.solve(rows, missed) == pytest.approx(PRINTED_CORRECTIONS_M3_S, abs=1.5e-4)


def test_converged_flows_and_heads() -> None:
    """Derived, with Colebrook's factors and standard gravity as 9.81: 0.02 L/s and 0.01 m."""
    model, demand = park()
    state = solve(model, demand)
    flows = [204.962, 95.038, 79.727, 125.236, 33.086, 29.727, 95.038, 7.851, 87.187, 62.813]
    heads = [50.0, 41.7037, 29.3852, 46.0975, 31.1475, 16.4436, 30.9365, 28.7522]
    assert state.flow_l_s == pytest.approx(flows, abs=0.02)
    assert state.head_m == pytest.approx(heads, abs=0.015)
