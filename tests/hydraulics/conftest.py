"""The small district of the network's tests, in memory."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from district.results import Inputs
from tests.network.conftest import make_inputs


@pytest.fixture
def with_layers() -> Callable[..., Inputs]:
    return make_inputs
