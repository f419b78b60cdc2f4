"""Districts of two years of nights: what was drawn stands in the tables."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.schema.columns import Table
from district.schema.inputs import WORKS
from district.schema.outputs import NIGHTS
from district.simulate import NightTrial, draw_night_trial
from district.simulate.night_trial import LEAKS, LEARNING_NIGHTS, NIGHTS_COUNT

SEEDS = range(20)


@pytest.fixture(scope="module")
def trials() -> list[NightTrial]:
    return [draw_night_trial(seed) for seed in SEEDS]


def all_truth(trials: list[NightTrial]) -> pd.DataFrame:
    return pd.concat([t.truth for t in trials], ignore_index=True)


def test_half_of_the_zones_leak_each_kind_as_often(trials: list[NightTrial]) -> None:
    leak = all_truth(trials)["leak"]
    assert (leak == "").mean() == pytest.approx(0.5, abs=0.05)
    counts = leak[leak != ""].value_counts()
    assert set(counts.index) == set(LEAKS)
    assert counts.max() - counts.min() <= 5


def test_single_zones_and_larger_districts_are_drawn(trials: list[NightTrial]) -> None:
    counts = [len(t.truth) for t in trials]
    assert counts.count(1) == len(SEEDS) // 5
    assert {c for c in counts if c > 1} <= {4, 6, 8}
    alone = [t.truth["leak"].iloc[0] for t in trials if len(t.truth) == 1]
    assert 0 < sum(a != "" for a in alone) < len(alone)


def test_sizes_are_what_their_names_say(trials: list[NightTrial]) -> None:
    truth = all_truth(trials)
    sigmas = truth["size_l_s"] / truth["sigma_l_s"]
    for name, count in (("one_sigma", 1.0), ("two_sigma", 2.0), ("three_sigma", 3.0)):
        assert sigmas[truth["leak"] == name].to_numpy() == pytest.approx(count)
    assert sigmas[truth["leak"] == "ramp"].between(2.0, 6.0).all()
    tenth = truth[truth["leak"] == "tenth"]
    assert (tenth["size_l_s"] / tenth["level_l_s"]).between(0.05, 0.17).all()
    assert (truth.loc[truth["leak"] == "", "size_l_s"] == 0).all()


def test_leaks_begin_in_the_second_year_and_run_to_its_end(trials: list[NightTrial]) -> None:
    for trial in trials:
        own = trial.truth[trial.truth["leak"] != ""]
        assert (trial.axis[own["position"]] == own["start"]).all()
        assert own["position"].between(LEARNING_NIGHTS, NIGHTS_COUNT - 91).all()
        grown = own["grown_count"]
        assert (grown[own["leak"] != "ramp"] == 1).all()
        assert grown[own["leak"] == "ramp"].between(20, 90).all()


def test_a_leak_raises_the_nights_from_its_start_on(trials: list[NightTrial]) -> None:
    rises = []
    for trial in trials:
        for row in trial.truth[trial.truth["leak"] == "three_sigma"].itertuples():
            own = trial.nights[trial.nights["cell_id"] == row.cell_id].set_index("night")
            flow = own["leakage_l_s"]
            before = flow[flow.index < row.start].tail(7).median()
            after = flow[flow.index >= row.start].head(7).median()
            rises.append((after - before) / row.size_l_s)
    assert np.median(rises) == pytest.approx(1.0, abs=0.25)


def test_tables_are_as_declared(trials: list[NightTrial]) -> None:
    def declared(frame: pd.DataFrame, table: Table) -> bool:
        return list(frame.columns) == list(table.names())

    for trial in trials:
        assert declared(trial.nights, NIGHTS)
        assert declared(trial.works, WORKS)
        assert not trial.nights.duplicated(["cell_id", "night"]).any()
        assert set(trial.nights["cell_id"]) == set(trial.network.cells.index)
        assert len(trial.nights) < len(trial.truth) * NIGHTS_COUNT
        low, high = trial.nights["leakage_l_s_low"], trial.nights["leakage_l_s_high"]
        assert (low <= trial.nights["leakage_l_s"]).all()
        assert (low <= high).all()


def test_most_districts_tell_their_holidays(trials: list[NightTrial]) -> None:
    told = [bool(t.settings.holidays) for t in trials]
    assert 0.5 < np.mean(told) < 1.0


def test_the_same_seed_gives_the_same_district_and_another_does_not() -> None:
    one, again, other = draw_night_trial(7), draw_night_trial(7), draw_night_trial(8)
    pd.testing.assert_frame_equal(one.nights, again.nights)
    pd.testing.assert_frame_equal(one.works, again.works)
    pd.testing.assert_frame_equal(one.truth, again.truth)
    assert not one.nights["leakage_l_s"].head(50).equals(other.nights["leakage_l_s"].head(50))
