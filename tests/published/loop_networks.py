"""Published networks as models: data typed from the sources the tests that use them name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from district.hydraulics import Model
from district.hydraulics.model import Reals
from tests.hydraulics.networks import network

INCH_MM = 25.4


def two_loop() -> tuple[Model, Reals]:
    """The network of Alperovits & Shamir 1977 (data from memory, high) in the design of cost
    419,000, and its demands in L/s."""
    model = network(
        {0: 210.0},
        [210.0, 150.0, 160.0, 155.0, 150.0, 165.0, 160.0],
        [(0, 1), (1, 2), (1, 3), (3, 4), (3, 5), (5, 6), (2, 4), (6, 4)],
        length_m=1000.0,
        diameter_mm=INCH_MM * np.array([18, 10, 16, 4, 16, 10, 10, 1]),
        roughness=130.0,
    )
    return model, np.array([0, 100, 100, 120, 270, 330, 200]) / 3.6


HANOI_LINKS = [
    (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7), (7, 8), (8, 9), (9, 10), (10, 11), (11, 12),
    (12, 13), (10, 14), (14, 15), (15, 16), (16, 17), (17, 18), (18, 19), (19, 3), (3, 20),
    (20, 21), (21, 22), (20, 23), (23, 24), (24, 25), (25, 26), (26, 27), (27, 16), (23, 28),
    (28, 29), (29, 30), (30, 31), (31, 32), (32, 25),
]  # fmt: skip
HANOI_LENGTHS_M = [
    100, 1350, 900, 1150, 1450, 450, 850, 850, 800, 950, 1200, 3500, 800, 500, 550, 2730, 1750,
    800, 400, 2200, 1500, 500, 2650, 1230, 1300, 850, 300, 750, 1500, 2000, 1600, 150, 860, 950,
]  # fmt: skip
HANOI_DEMANDS_M3_H = [
    0, 890, 850, 130, 725, 1005, 1350, 550, 525, 525, 500, 560, 940, 615, 280, 310, 865, 1345, 60,
    1275, 930, 485, 1045, 820, 170, 900, 370, 290, 360, 360, 105, 805,
]  # fmt: skip
HANOI_DESIGNS_INCH = {
    "6.081 million": [
        40, 40, 40, 40, 40, 40, 40, 40, 40, 30, 24, 24, 20, 16, 12, 12, 16, 24, 20, 40, 20, 12, 40,
        30, 30, 20, 12, 12, 16, 12, 12, 16, 16, 24,
    ],
    "6.073 million": [
        40, 40, 40, 40, 40, 40, 40, 40, 40, 30, 24, 24, 20, 16, 12, 12, 16, 20, 20, 40, 20, 12, 40,
        30, 30, 20, 12, 12, 16, 16, 12, 12, 16, 20,
    ],
}  # fmt: skip


def hanoi(design: str) -> tuple[Model, Reals]:
    """The network of Fujiwara & Khang 1990 (data from memory, high), and its demands in L/s."""
    model = network(
        {0: 100.0},
        np.zeros(32),
        [(s - 1, e - 1) for s, e in HANOI_LINKS],
        length_m=HANOI_LENGTHS_M,
        diameter_mm=INCH_MM * np.array(HANOI_DESIGNS_INCH[design]),
        roughness=130.0,
    )
    return model, np.array(HANOI_DEMANDS_M3_H) / 3.6


PARK_PIPES = ["1", "2", "5", "3", "6", "7", "4", "8", "9", "10"]
"""Names the worksheet gives, in the order of `park`'s links."""


def park() -> tuple[Model, Reals]:
    """The industrial park (worksheet of 17 December 2015, scribd.com/document/485045475, seen):
    nodes A to H as 0 to 7. Its letters and ends are inferred, the head of 50 m from memory; flows
    do not depend on it."""
    model = network(
        {0: 50.0},
        np.zeros(8),
        [(0, 1), (0, 3), (1, 2), (1, 6), (6, 7), (2, 7), (3, 4), (4, 6), (4, 5), (7, 5)],
        length_m=[300, 250, 350, 125, 350, 125, 300, 125, 350, 125],
        diameter_mm=[300, 250, 200, 200, 200, 200, 200, 150, 200, 150],
        roughness=0.26,
        formula="darcy_weisbach",
    )
    return replace(model, viscosity_m2_s=1e-6), np.array([0, 0, 50, 0, 0, 150, 100, 0], dtype=float)
