from datetime import date

import pytest

from district.simulate import Scenario, Simulated, simulate
from district.simulate.simulated import Scene, set_out

SMALL = Scenario(first=date(2025, 3, 20), days=14, customers_share=0.2)
AUTUMN = Scenario(first=date(2025, 10, 15), days=14)


@pytest.fixture(scope="session")
def small() -> Simulated:
    """Two weeks across the March clock change, a fifth of the customers."""
    return simulate(SMALL, seed=3)


@pytest.fixture(scope="session")
def autumn() -> Simulated:
    """The sample district about its step test, its fire and the valve left open."""
    return simulate(AUTUMN, seed=7)


@pytest.fixture(scope="session")
def year() -> Scene:
    """The sample district's year before its water runs."""
    return set_out(Scenario(), seed=7)
