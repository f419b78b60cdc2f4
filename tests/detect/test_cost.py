"""Run time, size, growth, volume and money of a run, by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from district.detect.cost import measures
from district.detect.places import Place
from district.detect.runs import Run


def place(**changes: Any) -> Place:
    made: dict[str, Any] = {
        "kind": "zone",
        "place_id": "V1",
        "cell_id": "V1",
        "flow_l_s": np.full(100, 0.5),
        "sigma_l_s": 0.05,
        "sigma_limits_l_s": (0.04, 0.06),
        "m3_per_l_s": np.full(100, 86.4),  # 24 h
        "error_share": 0.0,
        "factor_share": 0.0,
        "changes": (),
    }
    return Place(**{**made, **changes})


def run(**changes: Any) -> Run:
    flow = np.where(np.arange(100) >= 60, 0.4, 0.0)
    made = {"position": 60, "low": 58, "high": 61, "detected": 63, "base_l_s": 0.5}
    return Run(**{**made, "flow_l_s": flow, "error_l_s": 0.01, **changes})


def told(what: Run, where: Place | None = None, **more: Any) -> dict[str, float]:
    return measures(
        where or place(), what, **{"last": 99, "water_currency_m3": 0.8, "lost": True, **more}
    )


def test_a_step_costs_its_size_by_its_days() -> None:
    found = told(run())
    assert (found["run_d_low"], found["run_d"], found["run_d_high"]) == (39, 40, 42)
    assert found["volume_m3"] == pytest.approx(40 * 0.4 * 86.4)
    assert found["cost_currency"] == pytest.approx(0.8 * found["volume_m3"])
    for name in ("volume_m3", "cost_currency", "size_l_s"):
        assert found[f"{name}_low"] < found[name] < found[f"{name}_high"]
    assert found["growth_l_s_d"] == found["growth_l_s_d_low"] == found["growth_l_s_d_high"] == 0


def test_limits_of_the_size_are_those_of_a_normal_mean() -> None:
    # 1.96 standard errors (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2, from memory).
    found = told(run())
    assert found["size_l_s_high"] - found["size_l_s"] == pytest.approx(1.96 * 0.01, rel=1e-3)
    wider = told(run(), place(error_share=0.05))
    half = np.hypot(1.96 * 0.01, 0.05 * 0.4)
    assert wider["size_l_s_high"] - wider["size_l_s"] == pytest.approx(half, rel=1e-3)


def test_an_unsure_start_widens_the_volume_on_both_sides() -> None:
    sure = told(run(low=60, high=60))
    unsure = told(run(low=50, high=70))
    assert unsure["volume_m3"] == sure["volume_m3"]
    assert sure["volume_m3"] - unsure["volume_m3_low"] == pytest.approx(
        np.hypot(sure["volume_m3"] - sure["volume_m3_low"], 10 * 0.4 * 86.4)
    )
    assert unsure["volume_m3_high"] > sure["volume_m3_high"]


def test_growth_has_the_limits_of_its_size_over_its_nights() -> None:
    flow = np.clip(0.01 * (np.arange(100) - 59), 0, None)
    found = told(run(flow_l_s=flow, growth_l_s_d=0.01, error_l_s=0.04))
    # 0.4 L/s after 40 nights, known to 0.04: 0.001 a night.
    assert found["growth_l_s_d_high"] - 0.01 == pytest.approx(1.96 * 0.001, rel=1e-3)
    assert found["volume_m3"] == pytest.approx(0.01 * 86.4 * 40 * 41 / 2)


def test_water_that_only_moved_has_no_volume_and_no_cost() -> None:
    found = told(run(), lost=False)
    assert found["size_l_s"] == pytest.approx(0.4)
    assert np.isnan([v for k, v in found.items() if k.startswith(("volume", "cost"))]).all()


def test_an_ended_run_counts_to_its_last_night() -> None:
    flow = np.where((np.arange(100) >= 60) & (np.arange(100) < 70), 0.4, 0.0)
    found = told(run(flow_l_s=flow, last=69), last=69)
    assert found["run_d"] == 10
    assert found["volume_m3"] == pytest.approx(10 * 0.4 * 86.4)


def test_a_flow_that_may_have_grown_ran_longer_and_lost_half_of_it_then() -> None:
    # By hand: 2 days between its step and the step's earliest night, 28 more on a straight line.
    found = told(run(first_nights=(30, 62), error_l_s=0.0))
    assert (found["run_d_low"], found["run_d"], found["run_d_high"]) == (38, 40, 70)
    day_m3 = 0.4 * 86.4
    assert found["volume_m3_high"] == pytest.approx((40 + 2 + 14) * day_m3)
    assert found["volume_m3_low"] == pytest.approx((40 - 2) * day_m3)
    # Limits within those of the step hold as they are, and never leave out its own night.
    near = told(run(first_nights=(59, 59), error_l_s=0.0))
    assert (near["run_d_low"], near["run_d_high"]) == (40, 41)
    assert near["volume_m3_high"] == pytest.approx(41 * day_m3)


def test_a_line_begun_on_another_night_loses_half_its_size_for_each_night_between() -> None:
    # By hand: a triangle to 1.2 L/s on night 99, from night 40, 10 or 55.
    night = np.arange(100)
    flow = 0.02 * np.clip(night - 39, 0, None)
    grown = run(position=40, low=38, high=45, flow_l_s=flow, growth_l_s_d=0.02, error_l_s=0.0)
    found = told(replace(grown, first_nights=(10, 55)))
    half = 0.5 * 1.2 * 86.4
    assert found["volume_m3_high"] - found["volume_m3"] == pytest.approx(30 * half)
    assert found["volume_m3"] - found["volume_m3_low"] == pytest.approx(15 * half)
    exact = 86.4 * 1.2 * np.clip((night[:, None] - [9, 54]) / [90, 45], 0, None).sum(axis=0)
    assert found["volume_m3_high"] == pytest.approx(exact[0], rel=0.01)
    assert found["volume_m3_low"] == pytest.approx(exact[1], rel=0.01)
