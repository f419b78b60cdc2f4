"""Two zones and one change: tables as declared, nets that add up, sizes as read."""

from __future__ import annotations

import pandas as pd
import pytest

from district.schema.outputs import NIGHTS
from district.schema.stored import HOURLY_FLOWS
from district.simulate import KindTrial, draw_kind_trial
from district.simulate.night_trial_changes import CHANGES
from district.simulate.night_trial_kinds import TURNS


@pytest.fixture(scope="module")
def trials() -> list[KindTrial]:
    return [draw_kind_trial(seed) for seed in range(2 * len(TURNS))]


def night_of(trial: KindTrial, cell_id: str) -> pd.Series:
    own = trial.nights[trial.nights["cell_id"] == cell_id]
    return own.set_index("night")["inflow_l_s"]


def test_every_change_has_its_turn(trials: list[KindTrial]) -> None:
    assert {t.change for t in trials} == set(CHANGES)
    assert all(t.kind == CHANGES[t.change] for t in trials)
    leaks = sum(t.kind in ("leak", "growing_leak") for t in trials)
    assert leaks == 2 * (TURNS.count("step") + TURNS.count("growth"))


def test_tables_are_as_declared(trials: list[KindTrial]) -> None:
    for trial in trials:
        assert list(trial.nights.columns) == list(NIGHTS.names())
        assert list(trial.device_hours.columns) == list(HOURLY_FLOWS.names())
        assert list(trial.hourly.columns) == ["cell_id", "day", "hour", "flow_l_s"]
        assert not trial.hourly.duplicated(["cell_id", "day", "hour"]).any()
        assert trial.works.empty


def test_the_nights_are_the_hours_from_two_to_four(trials: list[KindTrial]) -> None:
    for trial in trials[:6]:
        own = trial.hourly[trial.hourly["hour"].isin([2, 3])]
        by_night = own.groupby(["cell_id", "day"])["flow_l_s"].mean()
        told = trial.nights.set_index(["cell_id", "night"])["inflow_l_s"]
        assert by_night.reindex(told.index).to_numpy() == pytest.approx(told.to_numpy())


def test_net_inflow_is_what_meters_pass_in_less_what_they_pass_on(
    trials: list[KindTrial],
) -> None:
    nested = 0
    for trial in trials:
        above = trial.network.boundaries.set_index("meter_id")["upstream_cell_id"]
        read = trial.device_hours.set_index(["device_id", "day", "hour"])["flow_l_s"]
        net = trial.hourly.set_index(["cell_id", "day", "hour"])["flow_l_s"]
        first, second = read.xs("M01"), read.xs("M02")
        passed_on = second if above["M02"] == "Z01" else 0 * second
        nested += above["M02"] == "Z01"
        both = (first - passed_on).dropna()
        own = net.xs("Z01").reindex(both.index)
        assert both.to_numpy() == pytest.approx(own.to_numpy(), nan_ok=True)
    assert 0 < nested < len(trials)


def test_the_night_flow_rises_by_the_size_at_the_start(trials: list[KindTrial]) -> None:
    for trial in trials:
        if trial.change not in ("step", "valve", "reads_more"):
            continue
        flow = night_of(trial, trial.cell_id)
        rise = flow[flow.index >= trial.start].median() - flow[flow.index < trial.start].median()
        assert rise == pytest.approx(trial.size_l_s, abs=0.12 * trial.night_flow_l_s)


def test_a_change_may_be_asked_for() -> None:
    assert draw_kind_trial(3, change="valve").kind == "boundary"
    with pytest.raises(KeyError):
        draw_kind_trial(3, change="flood")


def test_the_same_seed_gives_the_same_trial(trials: list[KindTrial]) -> None:
    again = draw_kind_trial(5)
    pd.testing.assert_frame_equal(again.hourly, trials[5].hourly)
    pd.testing.assert_frame_equal(again.nights, trials[5].nights)
