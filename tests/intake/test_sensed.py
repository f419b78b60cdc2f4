from __future__ import annotations

import numpy as np

from district.intake.devices import Device
from district.intake.entries import SPIKE
from district.intake.flows import flow
from district.intake.spans import HOUR_US, Span


def test_samples_outside_the_span_only_help_to_judge() -> None:
    value = 40 + np.sin(np.arange(60) / 5)
    value[31] = 95.0
    device = Device("P", "pressure", "sensor", 1.0)
    at_us = np.arange(60) * HOUR_US
    found = flow(device, at_us, value, np.ones(60, bool), own=Span(30 * HOUR_US, 40 * HOUR_US))
    assert np.flatnonzero(found.quality == SPIKE).tolist() == [1]
    assert (len(found.value), found.expected_count) == (10, 10)


def test_levels_that_cannot_be_are_counted_where_they_are() -> None:
    level = 2 + 0.3 * np.sin(np.arange(60) / 5).round(2)
    level[12] = 9.0
    tank = Device("T", "tank_level", "sensor", 1.0, surface_m2=100.0)
    for first, what in ((0, ["jumped"]), (30, [])):
        own = Span(first * HOUR_US, (first + 30) * HOUR_US)
        found = flow(tank, np.arange(60) * HOUR_US, level, np.ones(60, bool), own=own)
        assert [t.what for t in found.tallies] == what
        assert found.missing_count == 0
