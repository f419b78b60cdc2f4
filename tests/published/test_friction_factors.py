"""Friction factors against the library `fluids`, and against Moody's smooth and rough ends.

`fluids` is a general library of fluid mechanics that solves Colebrook's equation by Lambert's W.
"""

from __future__ import annotations

import fluids.friction
import numpy as np
import pytest

from district.hydraulics.friction import LAMINAR, TURBULENT, friction_factor


@pytest.mark.parametrize("rough", [0.0, 1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.05])
def test_turbulent_factors(rough: float) -> None:
    for re in np.geomspace(TURBULENT, 1e8, 25):
        right = fluids.friction.Colebrook(float(re), rough)
        assert friction_factor(re, rough) == pytest.approx(right, rel=1e-10)


def test_laminar_factors() -> None:
    for re in np.geomspace(1.0, LAMINAR, 10):
        right = fluids.friction.friction_laminar(float(re))
        assert friction_factor(re, 0.001) == pytest.approx(right, rel=1e-12)


@pytest.mark.parametrize("rough", [0.0, 1e-4, 0.01])
def test_between_laminar_and_turbulent_the_factor_lies_between_theirs(rough: float) -> None:
    re = np.linspace(LAMINAR, TURBULENT, 50)
    smooth = np.array([fluids.friction.friction_laminar(float(r)) for r in re])
    turbulent = np.array([fluids.friction.Colebrook(float(r), rough) for r in re])
    found = friction_factor(re, rough)
    assert (found >= smooth * (1 - 1e-12)).all()
    assert (found <= turbulent * (1 + 1e-12)).all()
