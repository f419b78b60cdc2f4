"""How often a transfer meter off by a tenth is named within 14 days, and how often a sound one.

Districts of 500 to 5,000 connections, 3 to 5 zones, four months of record; three leaks in two
zone-years begin and end, and works fall in between.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import district_balance
from district.simulate.trial import Leaks, MeterFault, draw_trial

NIGHTS, LAST = 120, 14


def named(seed: int, share: float) -> tuple[bool, bool]:
    """Whether the faulty meter of one district was named, and whether a sound one was."""
    rng = np.random.default_rng(seed + 1_000_000)
    trial = draw_trial(
        seed,
        connections_count=int(np.exp(rng.uniform(np.log(500), np.log(5000)))),
        zones_count=int(rng.integers(3, 6)),
        nights_count=NIGHTS,
        faults=(MeterFault(share, NIGHTS - LAST),) if share else (),
        leaks=Leaks(per_zone_count=0.5),
    )
    found = district_balance(
        trial.network, trial.reduced, settings=trial.settings, works=trial.works
    )
    off = set(found.meter_checks.loc[found.meter_checks["verdict"] == "off", "meter_id"])
    faulty = {fault.meter_id for fault in trial.faults if isinstance(fault, MeterFault)}
    return bool(off & faulty), bool(off - faulty)


@pytest.mark.parametrize("share", [0.1, -0.1, 0.0])
def test_transfer_meters_are_named_and_sound_ones_left(benchmark: Any, share: float) -> None:
    found = benchmark.pedantic(
        lambda: [named(seed, share) for seed in range(20)], rounds=1, iterations=1
    )
    right, wrong = np.array(found).mean(axis=0)
    assert wrong <= 0.05
    if share:
        assert right >= 0.8
