"""Rises beside a meter that is off, typed by hand."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.detect import find_events
from district.detect.accused import accused, blamed
from district.schema import empty
from district.schema.reconciled import METER_CHECKS
from district.settings import Settings

SINCE = pd.Timestamp("2025-02-10")


def checks(**changes: Any) -> pd.DataFrame:
    row = {
        "meter_id": "M2",
        "upstream_cell_id": "V1",
        "downstream_cell_id": "V2",
        "flow_m3_d": 432.0,
        "verdict": "off",
        "since": SINCE,
        "since_low": SINCE,
        "since_high": SINCE,
        "off_share": 0.25,
    }
    return pd.DataFrame([row | changes]).reindex(columns=list(METER_CHECKS.names()))


@pytest.mark.parametrize(
    ("share", "flow_m3_d", "cell"),
    [(0.25, 432.0, "V2"), (-0.2, 432.0, "V1"), (0.25, -432.0, "V1"), (-0.2, -432.0, "V2")],
)
def test_the_zone_that_seems_to_gain_goes_by_the_sign_of_flow_and_fault(
    share: float, flow_m3_d: float, cell: str
) -> None:
    (meter,) = accused(checks(off_share=share, flow_m3_d=flow_m3_d))
    assert meter.cell_id == cell
    assert {meter.cell_id, meter.other_cell_id} == {"V1", "V2"}
    # 432 m3/d are 5 L/s; a fifth of what it reads too much (or a quarter too little), by 1.3.
    assert meter.largest_l_s == pytest.approx(1.3 * 5.0 * abs(share) / (1 + share))


def test_only_a_meter_off_since_a_day_is_accused() -> None:
    assert accused(checks(verdict="agrees")) == ()
    assert accused(checks(since=pd.NaT)) == ()
    assert accused(empty(METER_CHECKS)) == ()


def test_a_rise_elsewhere_at_another_time_or_far_larger_is_not_the_meters() -> None:
    meters = accused(checks())
    when = {"low": SINCE, "high": SINCE}
    assert blamed("V2", meters, size_l_s=1.0, error_l_s=0.05, **when) == meters[0]
    assert blamed("V1", meters, size_l_s=1.0, error_l_s=0.05, **when) is None
    assert blamed("V2", meters, size_l_s=3.0, error_l_s=0.05, **when) is None
    later = {k: v + pd.Timedelta(days=9) for k, v in when.items()}
    assert blamed("V2", meters, size_l_s=1.0, error_l_s=0.05, **later) is None


def test_an_event_names_the_meter_instead_of_a_leak(
    nights_of: Any, building_nights_of: Any, works_of: Any, alarms_of: Any, network: Any, quiet: Any
) -> None:
    flow = quiet(90, 3)
    flow[40:] += 0.4
    rest = {
        "network": network,
        "alarms": alarms_of([]),
        "works": works_of([]),
        "settings": Settings(),
    }
    nights, buildings = nights_of({"V2": flow}), building_nights_of({})
    plain = find_events(nights, buildings, **rest).events
    assert list(plain["kind"]) == ["leak"]
    events = find_events(nights, buildings, meter_checks=checks(), **rest).events
    assert list(events["kind"]) == ["meter_fault"]
    row = events.iloc[0]
    assert "meter M2 began to read about 25 % too much" in row["reason"]
    assert "zone V2 seems to gain what zone V1 seems to lose, and no water is lost" in row["reason"]
    assert row["other_cell_id"] == "V1"
    assert bool(row["act"])
    assert pd.isna(row["volume_m3"])
