"""The score of stated limits, against limits typed by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.simulate import MeterFault, Trial, draw_trial, limits_held, trial_limits


def nights_about(trial: Trial, *, low: float, high: float) -> pd.DataFrame:
    """A table NIGHTS that states this far below and above the truth."""
    truth = trial.truth_nights["leakage_l_s"]
    return trial.truth_nights.assign(
        leakage_l_s_low=truth + low, leakage_l_s_high=truth + high, status="measured", works=""
    )


def test_truth_within_its_limits_is_held() -> None:
    trial = draw_trial(1, nights_count=6, zones_count=3, connections_count=300)
    found = trial_limits(trial, nights_about(trial, low=-0.1, high=0.3), figure="leakage_l_s")
    assert len(found) == 4 * 6
    assert (found["at"] == 0).all()
    assert set(found["size"]) <= {"trunk", "to 50", "to 150", "to 400"}
    held = limits_held(found).iloc[0]
    assert held["rows_count"] == 24
    assert held["held_share"] == 1.0
    by_hand = (0.2 / trial.truth_nights["leakage_l_s"]).median()
    assert held["width_share"] == pytest.approx(by_hand)


def test_truth_beyond_either_limit_is_told_apart() -> None:
    trial = draw_trial(1, nights_count=8)
    nights = nights_about(trial, low=-0.1, high=0.1)
    wrong = np.arange(len(nights)) % 4
    moved = nights["leakage_l_s"] + np.select([wrong == 0, wrong == 1], [0.15, -0.05], -0.25)
    nights["leakage_l_s_low"], nights["leakage_l_s_high"] = moved - 0.1, moved + 0.1
    found = trial_limits(trial, nights.assign(leakage_l_s=moved), figure="leakage_l_s")
    held = limits_held(found).iloc[0]
    assert (held["below_share"], held["held_share"], held["above_share"]) == (0.25, 0.25, 0.5)
    apart = limits_held(found, by=["cell_id"])
    assert apart["rows_count"].sum() == len(nights)


def test_works_gaps_and_faults_are_left_out() -> None:
    trial = draw_trial(2, nights_count=10, faults=[MeterFault(0.1, 5, "ZM-Z02")])
    nights = nights_about(trial, low=-1.0, high=1.0)
    nights.loc[nights["cell_id"] == "Z03", "works"] = "flushing"
    nights.loc[nights["cell_id"] == "Z04", "status"] = "no_inflow"
    found = trial_limits(trial, nights, figure="leakage_l_s")
    counts = found.groupby("cell_id").size().to_dict()
    assert counts == {"Trunk": 10, "Z01": 5, "Z02": 5}
