"""What the plan of renewal returns is frozen and begins without rows."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from district.renewal_results import PipeRates
from district.schema.columns import empty
from district.schema.renewal_tables import FIT_TERMS, PIPE_RATES


def test_rates_are_frozen_and_say_nothing_that_was_not_told() -> None:
    none = np.zeros((0, 3), dtype=np.float32)
    rates = PipeRates(empty(PIPE_RATES), 2026, none, "none", 0.0, none[0:0, 0])
    assert list(rates.terms.columns) == list(FIT_TERMS.names())
    with pytest.raises(dataclasses.FrozenInstanceError):
        rates.year = 2027  # type: ignore[misc]
