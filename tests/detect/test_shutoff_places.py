"""Which meters could drive a valve, and when recorded works drew water behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from district.detect.shutoff_places import automatic_valves, places_of, work_spans
from district.network import Network
from district.schema.columns import empty
from district.schema.event_tables import BUILDING_CHECKS, EVENTS
from district.settings import Settings, ShutOff

HOUR_US = 3_600_000_000
QUALITY = pd.DataFrame(
    {"device_id": ["B1", "B2", "M1"], "step_h": [1.0, 0.25, 0.25], "resolution_m3": 0.01}
)


def with_valve(network: Network, building: str | None = "Hall", **told: Any) -> Network:
    valves = gpd.GeoDataFrame(
        {"kind": ["automatic_shutoff"], "building_id": [building], "fail_position": ["open"]},
        geometry=[Point(150, 0)],
        crs=32630,
        index=["A1"],
    ).assign(**told)
    return replace(network, valves=valves)


def places(network: Network, **told: Any) -> dict[str, Any]:
    events = told.get("events", empty(EVENTS))
    checks = told.get("checks", empty(BUILDING_CHECKS))
    settings = Settings(shut_off=ShutOff(advise_all=told.get("advise_all", False)))
    quality = told.get("quality", QUALITY)
    return {p.device_id: p for p in places_of(quality, network, events, checks, settings)}


def test_a_valve_of_its_building_asks_for_a_meter(network: Network) -> None:
    found = places(with_valve(network))
    assert list(found) == ["B1"]
    assert (found["B1"].building_id, found["B1"].valve_id) == ("Hall", "A1")
    assert found["B1"].fail_position == "open"
    assert found["B1"].fine()
    assert places(with_valve(network, kind="isolation")) == {}
    assert places(with_valve(network, building=None)) == {}


def test_valves_of_a_layer_without_buildings_are_none(network: Network) -> None:
    assert automatic_valves(network) == {}


@pytest.mark.parametrize(
    ("told", "asked"),
    [
        ({}, ["B2"]),
        ({"state": "explained"}, []),
        ({"kind": "use"}, []),
        ({"place_kind": "zone"}, []),
    ],
)
def test_a_leak_on_record_asks_for_a_meter(
    network: Network, told: dict[str, str], asked: list[str]
) -> None:
    usual = {"place_kind": "building", "place_id": "B2", "kind": "building_flow", "state": "ended"}
    events = pd.DataFrame([dict.fromkeys(EVENTS.names()) | usual | told])
    assert list(places(network, events=events)) == asked


def test_constant_flow_asks_for_a_meter(network: Network) -> None:
    row = dict.fromkeys(BUILDING_CHECKS.names())
    checks = pd.DataFrame([row | {"device_id": "B2", "verdict": "constant_flow", "act": True}])
    assert list(places(network, checks=checks)) == ["B2"]
    # As old as its readings, and most likely a process.
    assert places(network, checks=checks.assign(act=False)) == {}
    assert places(network, checks=checks.assign(verdict="still")) == {}


def test_all_of_them_where_the_settings_say_so_but_no_meter_on_mains(network: Network) -> None:
    assert list(places(network, advise_all=True)) == ["B1", "B2"]
    daily = QUALITY.assign(step_h=24.0)
    assert not places(network, advise_all=True, quality=daily)["B1"].fine()
    assert list(places(network, advise_all=True, quality=QUALITY[1:])) == ["B2"]


def test_works_take_their_time_or_their_local_day(works_of: Callable[..., pd.DataFrame]) -> None:
    works = works_of(
        [
            ("2025-07-01T09:00", "2025-07-01T11:00", "planned_use", "Hall"),
            ("2025-07-02T23:30", "", "repair", "B1"),
            ("2025-07-03T09:00", "2025-07-03T10:00", "flushing", "V2"),
            ("2025-07-04T09:00", "2025-07-09T10:00", "empty", "Hall"),
        ]
    )
    first, second = work_spans(works, {"Hall", "B1"}, ZoneInfo("Europe/Athens"))
    assert first[1] - first[0] == 2 * HOUR_US
    # 23:30 UTC is 02:30 of 3 July in Athens; that day ends at 21:00 UTC.
    assert pd.Timestamp(second[1], unit="us") == pd.Timestamp("2025-07-03 21:00")
