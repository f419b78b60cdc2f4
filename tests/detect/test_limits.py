"""The limit for a stated rate of false alarms."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.limits import limit_for


def test_fewer_false_alarms_need_a_higher_limit() -> None:
    limits = [limit_for(rate) for rate in (5.0, 2.0, 1.0, 0.5, 0.1, 0.01)]
    assert (np.diff(limits) > 0).all()


def test_the_table_is_met_at_its_entries_and_nothing_lies_below_it() -> None:
    assert limit_for(1.16) == pytest.approx(3.2, abs=0.03)
    assert limit_for(0.081) == pytest.approx(3.8, abs=0.03)
    assert limit_for(1000.0) == 2.6


def test_the_rate_falls_faster_than_where_nothing_is_estimated_or_limited() -> None:
    """Mean nights to a false alarm grow as exp(h^2 / 2) / h at least (see `limits`)."""
    low, high = limit_for(0.5), limit_for(0.05)
    grown = np.log(high / low) + (low**2 - high**2) / 2
    assert grown > -np.log(10.0)
