"""Tests of `district.isolate.losses`: tables of all at once, against one plan at a time."""

from __future__ import annotations

import numpy as np
import pytest

from district.isolate.losses import segment_losses, valve_losses
from district.isolate.plan import Plan, plan_shut_off
from district.isolate.segments import Segments
from district.isolate.target import Target
from district.network import Network
from district.schema.isolate_tables import SEGMENT_LOSSES, VALVE_LOSSES
from tests.isolate.towns import VALVES_THERE, cut, town

TOWNS = {
    "one source": town(of_houses={"H3": {"critical": True}}),
    "two sources": town(sources={"S": (0, 0), "S2": (400, 0)}),
    "outlet valve": town(valves={**VALVES_THERE, "V0": (0, 0), "V6": (200, 50)}),
    "shut valve": town(of_valves={"V3": {"state": "shut"}}),
    "two at one place": town(valves={**VALVES_THERE, "W2": (110, 0)}),
}


def plan_of(network: Network, segments: Segments, segment_id: str, *stuck: str) -> Plan:
    wanted = segments.segment_ids() == segment_id
    return plan_shut_off(network, segments, Target(wanted, segment_id), stuck=stuck)


@pytest.mark.parametrize("name", TOWNS)
def test_every_segment_loses_what_its_plan_says(name: str) -> None:
    network = TOWNS[name]
    segments = cut(network)
    table = segment_losses(segments)
    assert tuple(table.columns) == SEGMENT_LOSSES.names()
    assert set(table["segment_id"]) == set(segments.table["segment_id"][segments.table["fed"]])
    for row in table.to_dict("records"):
        made = plan_of(network, segments, row["segment_id"])
        assert row["valves_count"] == (made.valves["action"] == "shut").sum()
        assert row["sources"] == ", ".join(made.sources)
        assert row["areas_count"] == (made.areas["kind"] == "unintended").sum()
        for column in ("properties_count", "length_m", "critical_count", "use_l_s_high"):
            if column != "use_l_s_high":
                assert row[f"dry_{column}"] == pytest.approx(made.areas[column].sum())
            beside = made.areas[column][made.areas["kind"] == "unintended"]
            if len(beside) < 2:
                assert row[f"unintended_{column}"] == pytest.approx(beside.sum())


@pytest.mark.parametrize("name", TOWNS)
def test_every_valve_costs_what_its_failure_adds(name: str) -> None:
    network = TOWNS[name]
    segments = cut(network)
    table = valve_losses(segments)
    assert tuple(table.columns) == VALVE_LOSSES.names()
    fed = segments.table.set_index("segment_id")["fed"]
    for row in table.to_dict("records"):
        worst, mean, length = 0.0, 0.0, 0.0
        sides = [s for s in (row["segment_id"], row["other_segment_id"]) if s and fed[s]]
        for segment_id in sides:
            own = segments.table.set_index("segment_id").at[segment_id, "length_m"]
            plain = plan_of(network, segments, segment_id)
            stuck = plan_of(network, segments, segment_id, row["valve_id"])
            more = stuck.areas["properties_count"].sum() - plain.areas["properties_count"].sum()
            worst, mean, length = max(worst, more), mean + own * more, length + own
        assert row["more_properties_count"] == worst, row["valve_id"]
        assert row["expected_properties_count"] == pytest.approx(mean / length if length else 0.0)


def test_the_worst_come_first() -> None:
    for network in TOWNS.values():
        segments = cut(network)
        for table, before in (
            (segment_losses(segments), "dry"),
            (valve_losses(segments), "more"),
        ):
            keys = table[
                [f"{before}_{c}" for c in ("critical_count", "properties_count", "length_m")]
            ]
            told = [tuple(row) for row in keys.round(6).itertuples(index=False)]
            assert told == sorted(told, reverse=True)
            assert table["rank"].tolist() == list(range(1, len(table) + 1))


def test_a_critical_user_weighs_more_than_many_properties() -> None:
    table = segment_losses(cut(town(of_houses={"H5": {"critical": True}})))
    order = table["segment_id"].tolist()
    assert order.index("P4/2") < order.index("P7/2")


def test_valves_at_one_place_stand_in_for_each_other() -> None:
    table = valve_losses(cut(TOWNS["two at one place"])).set_index("valve_id")
    assert table.at["V2", "beside"] == "W2"
    assert table.at["W2", "beside"] == "V2"
    assert table.loc[["V2", "W2"], "more_length_m"].tolist() == [0.0, 0.0]
    assert table.loc[["V2", "W2"], "worst_for"].tolist() == ["", ""]


def test_an_outlet_valve_has_one_segment_and_costs_nobody_more() -> None:
    table = valve_losses(cut(TOWNS["outlet valve"])).set_index("valve_id")
    assert table.at["V0", "other_segment_id"] == ""
    assert np.isclose(table.at["V0", "more_length_m"], 0.0)


def test_where_no_water_is_nothing_is_lost() -> None:
    segments = cut(town(sources={}))
    assert segment_losses(segments).empty
    assert valve_losses(segments)["more_length_m"].tolist() == [0.0] * len(VALVES_THERE)
    bare = cut(town(valves={}))
    assert segment_losses(bare)["dry_properties_count"].tolist() == [63]
    assert valve_losses(bare).empty
