"""A small drawn zone with places of leaks, for tests of its truth."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from district.settings import Background
from district.simulate.leak_trial_bores import with_bores
from district.simulate.leak_trial_map import ZoneMap, furnish
from district.simulate.leak_trial_streets import draw_streets_of_zone
from district.simulate.leak_trial_zone import TrueZone, true_zone

PLACES = pd.DataFrame(
    {"kind": ["main", "service", "main"], "pipe": [20, 20, 150], "share": [0.8, 0.3, 0.5]}
)


@cache
def zone_map(gates_count: int = 2) -> ZoneMap:
    rng = np.random.default_rng(10)
    streets = draw_streets_of_zone(
        rng, pipes_count=250, loops_share=0.17, block_m=60.0, gates_count=gates_count
    )
    return with_bores(furnish(rng, streets, loggers_count=6, metered_share=0.02), peak_loss_m=6.0)


@cache
def zone(gates_count: int = 2) -> TrueZone:
    return true_zone(
        zone_map(gates_count),
        PLACES,
        head_m=float(zone_map(gates_count).nodes["elevation_m"].max()) + 50.0,
        background=Background(),
        condition_factor_index=1.5,
    )
