"""Past leaks from events, from constant flow, and from what a history holds."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.detect.shutoff_history import HOUR_US
from district.detect.shutoff_leaks import Leak, past_leaks, spans_apart
from district.schema.event_tables import BUILDING_CHECKS, EVENTS
from tests.detect.shutoff_made import FIRST_US, every_day, history

UTC = ZoneInfo("UTC")
REST = every_day(120, range(8, 10), 0.5)


def events(**told: Any) -> pd.DataFrame:
    usual: dict[str, Any] = dict.fromkeys(EVENTS.names(), np.nan)
    usual |= {"place_kind": "building", "place_id": "B1", "kind": "building_flow"}
    usual |= {"state": "ended", "start": pd.Timestamp("2025-02-01"), "growth_l_s_d": 0.0}
    usual |= {"start_low": pd.Timestamp("2025-01-30"), "end": pd.Timestamp("2025-02-10")}
    usual |= {"size_l_s": 0.2, "size_l_s_low": 0.18, "size_l_s_high": 0.22}
    return pd.DataFrame([usual | told])


def checks(**told: Any) -> pd.DataFrame:
    usual: dict[str, Any] = dict.fromkeys(BUILDING_CHECKS.names(), np.nan)
    usual |= {"device_id": "B1", "verdict": "constant_flow", "act": True}
    usual |= {"since": pd.Timestamp("2025-04-01"), "constant_l_s": 0.05}
    usual |= {"constant_l_s_low": 0.04, "constant_l_s_high": 0.06}
    return pd.DataFrame([usual | told])


NO_EVENTS, NO_CHECKS = events().iloc[:0], checks().iloc[:0]


def found(
    flow: np.ndarray, told: pd.DataFrame = NO_EVENTS, steady: pd.DataFrame = NO_CHECKS
) -> tuple[Leak, ...]:
    return past_leaks("B1", history(flow), events=told, checks=steady, never_zero_h=24.0, clock=UTC)


def test_an_event_is_a_leak_from_its_first_to_its_last_night() -> None:
    (leak,) = found(REST, events())
    assert leak.hours() == 10 * 24
    assert leak.earlier_h == 48
    # 0.2 L/s for ten days is 172.8 m3.
    assert leak.volume_m3 == pytest.approx((172.8, 0.9 * 172.8, 1.1 * 172.8))
    (begin, end) = spans_apart([leak])[0]
    assert (begin - FIRST_US) / HOUR_US == (31 - 3) * 24
    assert (end - FIRST_US) / HOUR_US == (41 + 1) * 24


def test_a_stated_volume_goes_before_size_times_time() -> None:
    told = events(volume_m3=150.0, volume_m3_low=140.0, volume_m3_high=160.0)
    assert found(REST, told)[0].volume_m3 == (150.0, 140.0, 160.0)


def test_an_open_event_runs_to_the_end_of_the_history() -> None:
    (leak,) = found(REST, events(end=pd.NaT, state="open"))
    assert leak.hours() == (120 - 31) * 24


def test_a_growing_leak_lost_half_of_its_last_flow_on_average() -> None:
    (leak,) = found(REST, events(growth_l_s_d=0.02))
    assert leak.grows
    assert leak.volume_m3[0] == pytest.approx(172.8 / 2)


@pytest.mark.parametrize(
    "told", [{"state": "explained"}, {"kind": "use"}, {"place_id": "B2"}, {"size_l_s": np.nan}]
)
def test_what_is_no_leak_of_this_meter(told: dict[str, Any]) -> None:
    assert found(REST, events(**told)) == ()


def test_constant_flow_counts_unless_an_event_tells_of_the_same_time() -> None:
    (leak,) = found(REST, NO_EVENTS, checks())
    assert leak.told_by == "constant flow"
    assert leak.volume_m3[0] == pytest.approx(0.05 * 3.6 * 30 * 24)
    (only,) = found(REST, events(end=pd.NaT, state="open"), checks())
    assert only.told_by == "event"
    assert found(REST, NO_EVENTS, checks(verdict="still")) == ()
    assert found(REST, NO_EVENTS, checks(act=False)) == ()


def test_flow_that_once_did_not_stop_for_two_days_is_held_for_a_leak() -> None:
    flow = REST.copy()
    flow[1000:1050] += 0.3
    (leak,) = found(flow)
    assert (leak.told_by, leak.hours()) == ("history", 50)
    assert leak.volume_m3[0] == pytest.approx(0.3 * 3.6 * 50)
    short = REST.copy()
    short[1000:1040] += 0.3
    assert found(short) == ()


def test_a_building_that_never_rests_tells_nothing_by_flow_that_does_not_stop() -> None:
    assert found(np.full(2880, 0.4)) == ()


def test_where_flow_lasts_again_and_again_it_is_use() -> None:
    flow = REST.copy()
    for begin in range(0, 2880, 240):
        flow[begin : begin + 72] += 0.3
    assert found(flow) == ()
