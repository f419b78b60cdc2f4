"""Bores of a drawn zone."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import solve
from district.settings import Background
from district.simulate.leak_trial_bores import with_bores
from district.simulate.leak_trial_map import ZoneMap, furnish
from district.simulate.leak_trial_streets import draw_streets_of_zone
from district.simulate.leak_trial_use import reference_use
from district.simulate.leak_trial_zone import true_zone

NO_LEAK = pd.DataFrame({"kind": [], "pipe": np.array([], dtype=np.int64), "share": []})


def zone_map() -> ZoneMap:
    rng = np.random.default_rng(9)
    streets = draw_streets_of_zone(
        rng, pipes_count=400, loops_share=0.17, block_m=60.0, gates_count=1
    )
    return furnish(rng, streets, loggers_count=3, metered_share=0.0)


def peak_loss_m(drawn: ZoneMap) -> float:
    use = reference_use(drawn)
    zone = true_zone(
        drawn, NO_LEAK, head_m=100.0, background=Background(), condition_factor_index=0.0
    )
    heads = solve(zone.model, use[np.argmax(use.sum(axis=1))]).head_m
    return float(heads[drawn.meters["node"]].max() - heads.min())


@pytest.mark.parametrize("wanted_m", [3.0, 8.0, 15.0])
def test_the_head_lost_at_the_peak_is_about_as_wanted(wanted_m: float) -> None:
    # Bores on the market step by about a quarter, head loss by a factor of about 3.
    assert wanted_m / 3 < peak_loss_m(with_bores(zone_map(), peak_loss_m=wanted_m)) < wanted_m * 3


def test_more_loss_wanted_is_smaller_bores() -> None:
    wide, narrow = (with_bores(zone_map(), peak_loss_m=m).pipes["diameter_mm"] for m in (2, 15))
    assert narrow.mean() < wide.mean()
    assert narrow.between(80.0, 600.0).all()


def test_the_mains_of_the_feed_are_wider_than_those_at_dead_ends() -> None:
    drawn = with_bores(zone_map(), peak_loss_m=8.0)
    ends = np.bincount(drawn.pipes[["start", "end"]].to_numpy().ravel())
    dead = (ends[drawn.pipes[["start", "end"]].to_numpy()] == 1).any(axis=1)
    fed = drawn.pipes["end"].isin(drawn.meters["node"])
    assert drawn.pipes.loc[fed, "diameter_mm"].min() > drawn.pipes.loc[dead, "diameter_mm"].median()
