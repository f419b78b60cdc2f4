"""Published networks as models: data typed from the sources named in the tests that use them."""

from __future__ import annotations

import numpy as np

from district.hydraulics import Model
from district.hydraulics.model import Reals
from tests.hydraulics.networks import network

INCH_MM = 25.4


def two_loop() -> tuple[Model, Reals]:
    """Alperovits & Shamir 1977, Water Resour Res 13(6) 885-900: data from memory (high). The design
    of cost 419,000. Demands in L/s."""
    model = network(
        {0: 210.0},
        [210.0, 150.0, 160.0, 155.0, 150.0, 165.0, 160.0],
        [(0, 1), (1, 2), (1, 3), (3, 4), (3, 5), (5, 6), (2, 4), (6, 4)],
        length_m=1000.0,
        diameter_mm=INCH_MM * np.array([18, 10, 16, 4, 16, 10, 10, 1]),
        roughness=130.0,
    )
    return model, np.array([0, 100, 100, 120, 270, 330, 200]) / 3.6
