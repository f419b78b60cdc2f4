from datetime import date

import pytest

from district.simulate import Scenario, Simulated, simulate

SMALL = Scenario(first=date(2025, 3, 20), days=21, customers_share=0.2)


@pytest.fixture(scope="session")
def small() -> Simulated:
    """Three weeks across the March clock change, a fifth of the customers."""
    return simulate(SMALL, seed=3)


@pytest.fixture(scope="session")
def whole() -> Simulated:
    """The sample district's year."""
    return simulate(Scenario(), seed=7)
