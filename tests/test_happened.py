"""What happened in zones and buildings, on the small folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district import detect, store
from district.happened import events_found, shut_off_found
from district.pipeline import balance_folder, shutoff_folder
from district.results import Reduced
from district.schema.columns import empty
from district.schema.stored import DAILY_VOLUMES
from tests.bad_inputs.small_folder import make_folder, read_layer, write_layer


def test_events_rest_on_the_nights_balanced(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened, found = balance_folder(folder)
    events = events_found(
        opened.network,
        opened.reduced,
        found,
        works=opened.inputs.works,
        place=store.place(folder),
        settings=opened.settings,
    )
    assert events.basis.first == found.nights["night"].min().date()
    assert set(events.night_noise["cell_id"]) <= set(found.nights["cell_id"])


def test_a_valve_is_replayed_with_the_readings_that_are_kept(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    connections = read_layer(folder, "connections")
    connections[0]["properties"]["building_id"] = "Mill House"
    write_layer(folder, "connections", connections)
    valves = read_layer(folder, "valves")
    told = {"kind": "automatic_shutoff", "building_id": "Mill House", "fail_position": "shut"}
    valves.append(
        {**valves[0], "properties": {**valves[0]["properties"], "valve_id": "A1", **told}}
    )
    write_layer(folder, "valves", valves)
    opened, shut_off = shutoff_folder(folder)
    assert [f for f in opened.findings if "A1" in f.place] == []
    (row,) = shut_off.settings.to_dict("records")
    assert (row["device_id"], row["building_id"], row["valve_id"]) == ("CM1", "Mill House", "A1")
    # Flow never stops in the three days read: no day is left to count false trips by.
    assert (row["days_count"], row["leaks_count"]) == (0, 1)
    assert row["advice"].endswith("needed to count false trips. Find what runs there first")
    assert "the building is without water until it is back" in row["cautions"]


def test_without_a_valve_or_a_leak_no_reading_is_asked_for(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened, found = balance_folder(folder)
    works, settings = opened.inputs.works, opened.settings
    place = store.place(folder)
    events = events_found(
        opened.network, opened.reduced, found, works=works, place=place, settings=settings
    )
    shut_off = shut_off_found(
        opened.network,
        opened.reduced,
        replace(events, building_checks=events.building_checks.iloc[:0]),
        works=works,
        place=tmp_path / "nowhere",
        settings=settings,
    )
    assert shut_off.settings.empty
    assert events.sensor_checks["sensor_id"].tolist() == ["WF1"]
    assert events.sensor_checks["verdict"].tolist() == ["sound"]


def test_naming_is_given_the_hours_of_the_days_it_wants(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_folder(tmp_path / "small")
    opened, found = balance_folder(folder)
    days = pd.to_datetime(["2025-03-10", "2025-03-12"])
    cells = [c for c in opened.network.cells.index if not opened.network.cells["has_source"][c]]
    wanted = pd.DataFrame({"cell_id": np.repeat(cells, 2), "day": np.tile(days, len(cells))})
    monkeypatch.setattr(detect, "hours_wanted", lambda _: wanted)
    given: dict[str, Any] = {}
    found_events = detect.find_events

    def find(*tables: Any, **more: Any) -> Any:
        given.update(more)
        return found_events(*tables, **more)

    monkeypatch.setattr(detect, "find_events", find)
    daily = empty(DAILY_VOLUMES)
    daily.loc[0, ["device_id", "day"]] = ["K1", days[0]]
    daily.loc[1, ["device_id", "day"]] = ["B1", days[0]]
    nights = pd.DataFrame({"device_id": ["B1"], "night": days[:1], "flow_l_s": [0.1]})
    reduced: Reduced = replace(opened.reduced, daily_volumes=daily, night_flows=nights)
    events_found(
        opened.network,
        reduced,
        found,
        works=opened.inputs.works,
        place=store.place(folder),
        settings=opened.settings,
    )
    hourly = given["hourly"]
    assert list(hourly.columns) == ["cell_id", "day", "hour", "flow_l_s"]
    assert set(hourly["day"]) == set(days)
    assert not hourly.duplicated(["cell_id", "day", "hour"]).any()
    # One meter into zone A, one from A to B: what enters A is the first less the second.
    edges = opened.network.boundaries
    flows = store.hourly_flows(
        store.place(folder),
        devices=list(edges["meter_id"]),
        days=pd.DatetimeIndex(days),
        zone=opened.settings.zone_info(),
    )
    net = detect.net_hours(flows, edges)
    pd.testing.assert_frame_equal(
        hourly.sort_values(["cell_id", "day", "hour"], ignore_index=True),
        net[net["cell_id"].isin(cells)].reset_index(drop=True),
        check_dtype=False,
    )
    assert list(given["daily_volumes"]["device_id"]) == ["K1"]
