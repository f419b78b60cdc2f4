"""Tests of `district.isolate.step_plan`."""

from __future__ import annotations

from datetime import time

import pandas as pd
import pytest

from district.errors import StageError
from district.isolate.step_order import Night
from district.isolate.step_plan import StepPlan, plan_step_test
from district.isolate.step_sections import Sought
from district.network import Network
from district.schema.columns import check
from district.schema.step_tables import STEP_PIPES, STEP_PLAN, STEP_PLAN_SECTIONS, STEP_USERS
from district.settings import Settings
from tests.isolate.towns import cut, town

NIGHT = Night(time(1, 30), time(4, 30))
LEAK = Sought(0.5, 0.4, 0.6)


def planned(
    network: Network,
    likely: dict[str, float] | None = None,
    *,
    night: Night = NIGHT,
    steps_count: int = 2,
) -> StepPlan:
    probability = network.pipes["length_m"].astype(float).copy()
    for name, share in (likely or {}).items():
        probability[name] = share
    return plan_step_test(
        network,
        cut(network),
        "supply S",
        probability_share=probability,
        sought=LEAK,
        night=night,
        settings=Settings(),
        steps_count=steps_count,
    )


def section_of(plan: StepPlan) -> dict[str, str]:
    return dict(zip(plan.pipes["pipe_id"], plan.pipes["section_id"], strict=True))


def test_its_tables_are_as_declared() -> None:
    plan = planned(town())
    for table, frame in (
        (STEP_PLAN, plan.plan),
        (STEP_PLAN_SECTIONS, plan.sections),
        (STEP_PIPES, plan.pipes),
        (STEP_USERS, plan.users),
    ):
        assert list(frame.columns) == list(table.names())
        assert check(table, frame, source=table.name)[1] == ()
    assert plan.sections["probability_share"].sum() == pytest.approx(1.0)
    assert plan.walk_after_m[0] < plan.walk_before_m[0]


def test_steps_go_where_the_leak_likely_is() -> None:
    network = town()
    ends = planned(network, {"P7/2": 2000.0, "P5/1": 2000.0})
    of = section_of(ends)
    assert of["P7/2"] != of["P5/1"]
    by_length = planned(network)
    assert ends.walk_after_m[0] < by_length.walk_after_m[0]
    near = planned(network, {"P2/2": 5000.0, "P6": 5000.0})
    assert section_of(near)["P2/2"] != "0"


def test_a_critical_user_is_never_dry_whatever_it_would_gain() -> None:
    network = town(of_houses={"H7": {"critical": True}})
    plan = planned(network, {"P7/2": 5000.0})
    assert "H7" not in set(plan.users["connection_id"])
    assert section_of(plan)["P7/2"] == "0"
    assert any("Kept fed: 1 critical user, H7" in said for said in plan.said)
    assert "fire service" in plan.caution


def test_only_who_is_in_a_section_is_told_and_all_valves_are_opened() -> None:
    plan = planned(town())
    of = section_of(plan)
    assert (plan.users["section_id"] != "0").all()
    assert (
        len(plan.users)
        == plan.sections.loc[plan.sections["section_id"] != "0", "connections_count"].sum()
    )
    turned = plan.plan.groupby("valve_id")["action"].agg(list)
    assert all("reopen" in a for name, a in turned.items() if name)
    assert set(of.values()) == set(plan.sections["section_id"])


def test_a_short_night_takes_fewer_valves_or_is_refused() -> None:
    short = planned(town(), night=Night(time(2), time(2, 35)), steps_count=4)
    assert (short.plan["action"] == "step").sum() == 1
    assert not (short.plan["action"] == "prepare").any()
    with pytest.raises(StageError, match="no time for one step"):
        planned(town(), night=Night(time(2), time(2, 20)))


def test_where_nothing_may_be_shut_the_plan_is_empty_and_says_why() -> None:
    everyone = {f"H{n}": {"critical": True} for n in (1, 2, 3, 5, 6, 7)}
    plan = planned(town(of_houses=everyone))
    assert plan.plan.empty
    assert plan.users.empty
    assert plan.said[0].startswith("No step is of use")
    assert plan.walk_after_m == plan.walk_before_m


def test_what_it_is_given_stays_as_it_was() -> None:
    network = town()
    before = network.pipes.copy()
    planned(network)
    pd.testing.assert_frame_equal(pd.DataFrame(network.pipes), pd.DataFrame(before))
