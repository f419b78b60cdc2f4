"""The limit for a stated rate of false alarms, and the error of a step."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.sequential import watch
from district.night_noise import limit_for, step_error


def test_fewer_false_alarms_need_a_higher_limit() -> None:
    limits = [limit_for(rate) for rate in (5.0, 2.0, 1.0, 0.5, 0.1, 0.01)]
    assert (np.diff(limits) > 0).all()


def test_the_table_is_met_at_its_entries_and_nothing_lies_below_it() -> None:
    assert limit_for(1.68) == pytest.approx(3.3, abs=0.03)
    assert limit_for(0.055) == pytest.approx(4.2, abs=0.03)
    assert limit_for(1000.0) == 3.0


def test_the_rate_falls_faster_than_where_nothing_is_estimated_or_limited() -> None:
    """Mean nights to a false alarm grow as exp(h^2 / 2) / h at least (see `limits`)."""
    low, high = limit_for(0.5), limit_for(0.05)
    grown = np.log(high / low) + (low**2 - high**2) / 2
    assert grown > -np.log(10.0)


@pytest.mark.parametrize("nights", [7, 14, 28])
def test_a_leak_of_so_many_errors_is_heard_after_about_so_many_nights(nights: int) -> None:
    """Monte Carlo of the whole change test of `detect`: 200 places with a step of that size."""
    size = limit_for(0.5) * float(step_error(np.array(1.0), nights))
    flow = np.random.default_rng(nights).normal(0.0, 1.0, (300 + 4 * nights, 200))
    flow[300:] += size
    plain = np.zeros((len(flow), 9))
    told = watch(flow, limit=limit_for(0.5), features=plain, shared=False).alarms
    taken = [
        next((a.detected - 299 for a in own if a.rise and a.detected >= 300), 4 * nights)
        for own in told
    ]
    assert np.median(taken) == pytest.approx(nights, rel=0.35)


def test_a_step_is_known_better_by_more_nights_but_no_better_than_its_level() -> None:
    errors = [float(step_error(np.array(1.0), n)) for n in (2, 7, 28, 120)]
    assert errors == sorted(errors, reverse=True)
    assert errors[0] == pytest.approx(np.sqrt(1 / 2 + 0.05), rel=0.1)
    assert errors[-1] > 0.15
