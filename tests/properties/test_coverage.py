"""The limits stated for leakage hold the truth of drawn districts as often as they claim.

A small version of tests/benchmarks/test_bench_limits.py, with bands by cluster reasoning: the
errors of a zone are mostly the same on all its nights, so that there are about as many independent
draws as zones, not as nights.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.balance import night_balance
from district.simulate import draw_trial, limits_held, trial_limits

SIZES = [(50, 1), (60, 2), (150, 3), (400, 4), (900, 5), (2500, 9)]
FIGURES = ("leakage_l_s", "leakage_m3_d")


@pytest.fixture(scope="module")
def limits() -> dict[str, pd.DataFrame]:
    """By figure, of 18 districts with and without pressure loggers; and beside the night leakage
    the standard deviation stated for what differs from night to night."""
    found: dict[str, list[pd.DataFrame]] = {f: [] for f in FIGURES}
    for seed in range(18):
        connections_count, zones_count = SIZES[seed % len(SIZES)]
        trial = draw_trial(
            7000 + seed,
            connections_count=connections_count,
            zones_count=zones_count,
            nights_count=30,
            with_pressure=seed % 4 < 2,
        )
        balanced = night_balance(
            trial.network, trial.reduced, settings=trial.settings, works=trial.works
        )
        for figure in FIGURES:
            one = trial_limits(trial, balanced.nights, figure=figure)
            spreads = balanced.spreads[["cell_id", "night", "leakage_random_l_s"]]
            one = one.merge(spreads, on=["cell_id", "night"])
            found[figure].append(one.assign(zone=f"{seed} " + one["cell_id"]))
    return {f: pd.concat(parts, ignore_index=True) for f, parts in found.items()}


@pytest.mark.parametrize("figure", FIGURES)
def test_truth_is_inside_in_95_of_100(limits: dict[str, pd.DataFrame], figure: str) -> None:
    zones_count = limits[figure]["zone"].nunique()
    assert zones_count > 80
    spread = np.sqrt(0.95 * 0.05 / zones_count)
    held = float(limits_held(limits[figure])["held_share"].iloc[0])
    assert abs(held - 0.95) < 3 * spread


@pytest.mark.parametrize("figure", FIGURES)
def test_limits_are_not_wider_than_they_need_be(
    limits: dict[str, pd.DataFrame], figure: str
) -> None:
    # One standard deviation holds 68 of 100: of limits half as wide again it would be 81.
    zones_count = limits[figure]["zone"].nunique()
    spread = np.sqrt(0.68 * 0.32 / zones_count)
    within = float((limits[figure]["at"].abs() < 1 / 1.96).mean())
    assert abs(within - 0.683) < 2.5 * spread


@pytest.mark.parametrize("figure", FIGURES)
def test_truth_leaves_the_limits_on_both_sides(
    limits: dict[str, pd.DataFrame], figure: str
) -> None:
    held = limits_held(limits[figure]).iloc[0]
    assert held["below_share"] < 0.06
    assert held["above_share"] < 0.06
    assert 0.1 < held["width_share"] < 0.8


def test_scatter_of_nights_is_stated_as_it_is(limits: dict[str, pd.DataFrame]) -> None:
    """The larger of the modelled and the observed scatter counts: that may not inflate it much."""
    told = limits["leakage_l_s"].assign(off=lambda t: t["value"] - t["truth"])
    zones = told[told["size"] != "trunk"].groupby("zone")
    true, stated = zones["off"].std(), zones["leakage_random_l_s"].median()
    # Of some 70 zones with 28 nights each, the median ratio is known to about 2 %.
    assert (stated / true).median() == pytest.approx(1.05, abs=0.1)
