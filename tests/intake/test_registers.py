from __future__ import annotations

import math

import numpy as np

from district.intake.devices import Device
from district.intake.entries import OK, RESET
from district.intake.flows import flow
from district.intake.spans import HOUR_US, Span

METER = Device("M", "register", "meter", 1.0, rate_scale=1.0)


def test_only_what_ends_in_the_span_is_given_and_told() -> None:
    time_us = np.arange(40) * HOUR_US
    value = np.concatenate([5000 + np.arange(20.0), 1 + np.arange(20.0)])
    parts = [
        flow(METER, time_us, value, np.ones(40, bool), own=Span(a * HOUR_US, b * HOUR_US))
        for a, b in ((0, 20), (20, 40))
    ]
    assert [len(p.value) for p in parts] == [19, 20]
    assert [p.expected_count for p in parts] == [19, 20]
    assert [[t.what for t in p.tallies] for p in parts] == [[], ["fallen"]]
    assert parts[1].quality[0] == RESET
    assert (parts[0].quality == OK).all()
    assert math.isnan(parts[1].value[0])


def test_a_rate_beside_it_is_kept_by_day() -> None:
    time_us = np.arange(50) * HOUR_US
    rate = np.full(50, 2.0)
    found = flow(METER, time_us, 2.0 * np.arange(50), np.ones(50, bool), rate)
    assert found.days is not None
    # 24 hours at 2 m³/h, by hand; the last day has but its first hour.
    assert found.days["rate_m3"].tolist() == [48, 48, 2]
    assert found.days["register_m3"].tolist() == [48, 48, 2]
