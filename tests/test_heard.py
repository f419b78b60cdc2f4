"""Tests of `district.heard`, on the small folder."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pandas as pd
import pytest

from district import store
from district.heard import heard_by_loggers, seen_in_the_field
from district.hydraulics import calibrate
from district.hydraulics.water import Calibrated
from district.opening import Opened
from district.pipeline import balance_folder
from district.results import Balance
from district.schema import empty
from district.schema.event_tables import EVENTS
from district.schema.stored import HOURLY_PRESSURES
from tests.bad_inputs.small_folder import make_folder

LAST = date(2025, 3, 12)


@pytest.fixture(scope="module")
def balanced(tmp_path_factory: pytest.TempPathFactory) -> tuple[Opened, Balance]:
    return balance_folder(make_folder(tmp_path_factory.mktemp("heard") / "small"))


def heard(opened: Opened, found: Balance, events: pd.DataFrame | None = None):
    return heard_by_loggers(
        opened.network,
        opened.reduced,
        found.zones,
        empty(EVENTS) if events is None else events,
        place=store.place(opened.folder),
        last=LAST,
        settings=opened.settings,
    )


def test_hours_of_the_latest_days_feed_the_model_where_no_leak_is_open(
    balanced: tuple[Opened, Balance],
) -> None:
    opened, found = balanced
    told, reason = heard(opened, found)
    assert told is not None
    assert reason == ""
    assert told.demands.hours["day"].min() == pd.Timestamp("2025-03-09")
    assert told.calibrated.drawn.logger_id.tolist() == ["PL1"]
    # What leaves the zones at an hour is what their meters let in.
    inflow = store.hourly_flows(
        store.place(opened.folder),
        devices=["MA"],
        days=pd.DatetimeIndex([LAST]),
        zone=opened.settings.zone_info(),
    )
    noon = inflow.loc[inflow["hour"] == 12, "flow_l_s"].item()
    at = told.demands.hours.index[
        (told.demands.hours["day"] == pd.Timestamp(LAST)) & (told.demands.hours["hour"] == 12)
    ]
    supply = told.demands.cell_id == "supply S1"
    drawn = told.demands.node_l_s()[at].sum() - told.demands.rest_l_s[at][:, supply].sum()
    assert drawn == pytest.approx(noon)


def test_a_model_fitted_with_the_leak_running_says_so(
    balanced: tuple[Opened, Balance], monkeypatch: pytest.MonkeyPatch
) -> None:
    opened, found = balanced
    row = dict.fromkeys(EVENTS.names())
    when = dict.fromkeys(("start", "start_low", "start_high"), pd.Timestamp("2025-03-12"))
    leak = {"event_id": "E1", "place_kind": "zone", "place_id": "A", "kind": "leak"}
    events = pd.DataFrame([{**row, **leak, **when, "state": "open"}])
    monkeypatch.setattr("district.heard.calibrate", _followed)
    told, limit = heard(opened, found, events)
    assert told is not None
    assert "with them running" in limit
    assert heard(opened, found)[1] == ""


def _followed(*given: Any, **more: Any) -> Calibrated:
    return replace(calibrate(*given, **more), reason="")


def test_without_a_logger_the_reason_is_said(balanced: tuple[Opened, Balance]) -> None:
    opened, found = balanced
    deaf = replace(
        opened, reduced=replace(opened.reduced, hourly_pressures=empty(HOURLY_PRESSURES))
    )
    told, reason = heard(deaf, found)
    assert told is None
    assert "No pressure logger was read" in reason


def test_without_a_source_no_model_is_made(balanced: tuple[Opened, Balance]) -> None:
    opened, found = balanced
    dry = replace(opened.network, sources=opened.network.sources.iloc[:0])
    told, reason = heard(replace(opened, network=dry), found)
    assert told is None
    assert "No model of the pipes can be made" in reason


def test_what_crews_told_is_handed_on(balanced: tuple[Opened, Balance]) -> None:
    opened, _ = balanced
    seen = seen_in_the_field(opened.inputs, opened.reduced)
    assert seen.surveys is opened.inputs.surveys
    assert seen.alarms is opened.reduced.alarms
