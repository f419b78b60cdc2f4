"""Reasons of events, whole sentences."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.accused import Accused
from district.detect.neighbours import Opposite
from district.detect.recorded import Work
from district.detect.runs import Run
from district.detect.states import OnRecord
from district.detect.words import reason

AXIS = pd.date_range("2025-01-01", periods=200, freq="D")
ROSE = "night flow rose by 0.42 L/s from one night to the next"
DAY = pd.Timestamp("2025-04-11")
METER = Accused("M2", "V1", "V2", DAY, DAY, 0.12, 1.0)


def run(**changes: Any) -> Run:
    flow = np.where(np.arange(200) >= 100, 0.424, 0.0)
    made = {"position": 100, "low": 100, "high": 100, "detected": 101, "base_l_s": 0.5}
    return Run(**{**made, "flow_l_s": flow, "error_l_s": 0.01, **changes})


def work(kind: str) -> Work:
    return Work(kind, DAY, DAY, "V1", frozenset({"V1"}))


def told(kind: str, what: Run, **more: Any) -> str:
    record = OnRecord(
        more.pop("explained", None), more.pop("nearby", None), more.pop("mended", None)
    )
    none = {"speaking": "", "leak_share": 0.02, "other": None, "meter": None, "place_kind": "zone"}
    return reason(kind, what, AXIS, record=record, **{**none, **more})


@pytest.mark.parametrize(
    ("kind", "what", "more", "expected"),
    [
        ("leak", run(), {"leak_share": 0.9}, f"{ROSE} and stayed up"),
        (
            "growing_leak",
            run(growth_l_s_d=0.0114),
            {"leak_share": 0.9},
            "night flow grew by 0.011 L/s a day",
        ),
        (
            "leak",
            run(rise_nights=4),
            {},
            "night flow rose by 0.42 L/s in steps over 5 nights and stayed up",
        ),
        (
            "leak",
            run(last=150),
            {"mended": work("repair")},
            f"{ROSE}, until it fell back after 2025-05-31 (a repair at V1 on 2025-04-11)",
        ),
        (
            "use",
            run(last=102),
            {"speaking": "it went back by itself after 3 nights"},
            f"{ROSE}, until it fell back after 2025-04-13: it went back by itself after 3 nights",
        ),
        (
            "use",
            run(last=102),
            {"explained": work("flushing")},
            f"{ROSE} during flushing at V1 on 2025-04-11, until it fell back after 2025-04-13",
        ),
        (
            "meter_fault",
            run(),
            {"explained": work("meter_change")},
            f"{ROSE} during a meter change at V1 on 2025-04-11",
        ),
        (
            "boundary",
            run(),
            {"other": Opposite("V2", ("valve X1",), -0.4312, 5.0)},
            f"{ROSE} while zone V2 fell by 0.43 L/s within a few nights: together nothing "
            "changed. Check valve X1 between them",
        ),
        (
            "boundary",
            run(),
            {"leak_share": 0.153},
            f"{ROSE}, as if water came in from another zone. Check the valves around the zone; "
            "but a leak is not ruled out: 15 %",
        ),
        (
            "meter_fault",
            run(),
            {"meter": METER},
            f"{ROSE} when meter M2 began to read about 12 % too much: zone V1 seems to gain what "
            "zone V2 seems to lose, and no water is lost. Check the meter",
        ),
        (
            "meter_fault",
            run(),
            {"other": Opposite("V2", ("meter M2", "valve X1"), -0.4, 5.0), "speaking": "why"},
            f"{ROSE} while zone V2 fell by 0.4 L/s, as if a meter read wrong (why): no water is "
            "lost. Check meter M2 between them",
        ),
        (
            "meter_fault",
            run(),
            {"speaking": "it follows the flow"},
            f"{ROSE}, as if a meter read wrong (it follows the flow): no water is lost. Check the "
            "zone's meters",
        ),
        ("unknown", run(), {}, f"{ROSE} and stayed up: no cause explains it well"),
        (
            "leak",
            run(fell_l_s=0.2),
            {"nearby": work("valve_operation"), "leak_share": 0.9},
            "night flow rose by 0.62 L/s from one night to the next and stayed up; partly gone: "
            "0.2 L/s less since; a valve operation at V1 on 2025-04-11 fell on the same days: "
            "check that it is not the cause",
        ),
        (
            "leak",
            run(),
            {"explained": work("meter_change"), "leak_share": 0.9},
            f"{ROSE} and stayed up; a meter change at V1 on 2025-04-11 fell on the same days, but "
            "does not explain it",
        ),
        (
            "use",
            run(),
            {"place_kind": "building", "leak_share": 0.3},
            f"{ROSE} and stayed up: no cause explains it well; but a flow that should not be "
            "there is not ruled out: 30 %",
        ),
    ],
)
def test_reasons(kind: str, what: Run, more: dict[str, Any], expected: str) -> None:
    assert told(kind, what, **more) == expected


def test_a_leak_is_said_not_to_be_ruled_out_from_one_in_ten_on() -> None:
    assert "not ruled out" in told("use", run(), leak_share=0.1)
    assert "not ruled out" not in told("use", run(), leak_share=0.099)
