"""Tests of `district.locate.step_test`."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest

from district.locate.spots import Evidence
from district.locate.step_test import step_evidence
from district.schema.field_records import STEP_TESTS
from tests.locate.field_scene import LEAK, LONDON, at, rows, scene_of, street

SCENE = scene_of()


def stepped(flows: list[tuple[str | None, float]], day: str = "2025-11-03") -> list[Evidence]:
    given = [
        {"test_id": "T1", "time": f"{day}T01:{5 * n:02d}Z", "valve_id": valve, "flow_l_s": flow}
        for n, (valve, flow) in enumerate(flows)
    ]
    return step_evidence(SCENE, rows(STEP_TESTS, *given))


@pytest.mark.parametrize(
    ("flows", "where"),
    [
        ([(None, 1.7), ("V2", 0.65), ("V1", 0.5)], (500, 0)),
        ([(None, 1.7), ("V2", 1.65), ("V1", 0.5)], (300, 0)),
        ([(None, 1.3), ("V2", 1.2), ("V1", 1.1)], (200, 55)),
    ],
)
def test_the_section_whose_shutting_took_the_flow(
    flows: list[tuple[str | None, float]], where: tuple[float, float]
) -> None:
    (told,) = stepped(flows)
    likely = told.log_likelihood
    places = [(500, 0), (300, 0), (200, 55)]
    found = {place: at(SCENE, likely, *place) for place in places}
    assert max(found, key=lambda p: found[p]) == where
    assert sorted(found.values())[1] < -1.5
    assert likely.min() >= np.log(0.05) - 1e-9
    assert "limits wider, as pressure rises in what stays open" in told.said


def test_use_of_a_section_is_not_taken_for_the_leak() -> None:
    """50 properties of 1.7 L/h are 0.02 L/s; of 3,000 a drop of 1.4 L/s is ordinary night use."""
    network = street()
    crowded = network.connections.assign(
        properties=[1, 1, 3000, 1, 1], geometry=network.connections.geometry
    )
    scene = scene_of(network=replace(network, connections=gpd.GeoDataFrame(crowded)))
    given = [
        {"test_id": "T", "time": f"2025-11-03T01:{n}0Z", "valve_id": v, "flow_l_s": q}
        for n, (v, q) in enumerate([(None, 3.0), ("V2", 1.5), ("V1", 0.4)])
    ]
    (told,) = step_evidence(scene, rows(STEP_TESTS, *given))
    assert at(scene, told.log_likelihood, 300) > at(scene, told.log_likelihood, 500)


def test_a_second_leak_does_not_rule_the_first_out() -> None:
    (told,) = stepped([(None, 3.7), ("V2", 2.6), ("V1", 0.2)])
    assert at(SCENE, told.log_likelihood, 500) > at(SCENE, told.log_likelihood, 150) + 1


def test_what_cannot_count_says_why() -> None:
    (early,) = stepped([(None, 1.7), ("V2", 0.65), ("V1", 0.5)], day="2025-10-02")
    assert "before the leak began" in early.said
    (alone,) = stepped([("V2", 1.7)])
    assert "fewer than two sections" in alone.said
    assert not early.used
    assert not alone.used


@pytest.mark.parametrize("unknown", ["V77", None])
def test_a_drop_at_a_valve_off_the_map_goes_to_the_next_section(unknown: str | None) -> None:
    """V77 is not on the map: what fell with it lies beyond V1, which is shut after it."""
    first = [] if unknown is None else [(unknown, 0.6)]
    (told,) = stepped([(None, 1.6), *first, ("V1", 0.5)])
    assert at(SCENE, told.log_likelihood, 500) == at(SCENE, told.log_likelihood, 300)
    assert at(SCENE, told.log_likelihood, 300) > at(SCENE, told.log_likelihood, 150) + 1
    assert "valve V1" in told.said


def test_a_test_of_another_zone_is_none_of_this_one() -> None:
    other = scene_of(replace(LEAK, cell_id="supply S"))
    given = [{"test_id": "T", "time": "2025-11-03T01:00Z", "valve_id": "V1", "flow_l_s": 1.0}]
    assert step_evidence(other, rows(STEP_TESTS, *given)) == []


def test_flows_of_nothing_and_settings_without_use_leave_numbers() -> None:
    none = LONDON.background.model_copy(
        update={"mains_l_km_h": 0.0, "connection_l_connection_h": 0.0}
    )
    idle = {
        name: rule.model_copy(update={"l_property_h": 0.0})
        for name, rule in LONDON.allowances.items()
    }
    settings = LONDON.model_copy(update={"background": none, "allowances": idle})
    given = [
        {"test_id": "T", "time": f"2025-11-03T01:{n}0Z", "valve_id": v, "flow_l_s": q}
        for n, (v, q) in enumerate([(None, 1.0), ("V2", 0.0), ("V1", 0.0)])
    ]
    (told,) = step_evidence(replace(SCENE, settings=settings), rows(STEP_TESTS, *given))
    assert np.isfinite(told.log_likelihood).all()
    assert at(SCENE, told.log_likelihood, 500) > at(SCENE, told.log_likelihood, 150) + 1
