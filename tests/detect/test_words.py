"""Kind and reason of a run."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.recorded import Work
from district.detect.runs import Run
from district.detect.words import kind_and_reason

AXIS = pd.date_range("2025-01-01", periods=200, freq="D")


def run(**changes: Any) -> Run:
    flow = np.where(np.arange(200) >= 100, 0.424, 0.0)
    made = {"position": 100, "low": 100, "high": 100, "detected": 101, "base_l_s": 0.5}
    return Run(**{**made, "flow_l_s": flow, "error_l_s": 0.01, **changes})


def told(place: str, what: Run, **more: Any) -> tuple[str, str]:
    none = {"explained": None, "nearby": None, "mended": None, "partner": None}
    return kind_and_reason(place, what, AXIS, **{**none, **more})


def work(kind: str) -> Work:
    day = pd.Timestamp("2025-04-11")
    return Work(kind, day, day, "V1", frozenset({"V1"}))


@pytest.mark.parametrize(
    ("place", "what", "more", "kind", "reason"),
    [
        (
            "zone",
            run(),
            {},
            "leak",
            "night flow rose by 0.42 L/s from one night to the next and stayed up",
        ),
        (
            "zone",
            run(growth_l_s_d=0.0114),
            {},
            "growing_leak",
            "night flow grew by 0.011 L/s a day",
        ),
        (
            "zone",
            run(rise_nights=4),
            {},
            "leak",
            "night flow rose by 0.42 L/s in steps over 5 nights and stayed up",
        ),
        (
            "zone",
            run(last=150),
            {"mended": work("repair")},
            "leak",
            "night flow rose by 0.42 L/s from one night to the next, until it fell back after "
            "2025-05-31 (a repair at V1 on 2025-04-11)",
        ),
        (
            "zone",
            run(last=102),
            {},
            "use",
            "night flow rose by 0.42 L/s from one night to the next and went back by itself "
            "after 3 nights",
        ),
        (
            "zone",
            run(last=102),
            {"explained": work("flushing")},
            "use",
            "night flow rose by 0.42 L/s from one night to the next during flushing at V1 on "
            "2025-04-11, until it fell back after 2025-04-13",
        ),
        (
            "zone",
            run(),
            {"partner": ("V2", 0.4312, "meter M2")},
            "boundary",
            "night flow rose by 0.42 L/s from one night to the next while zone V2 fell by "
            "0.43 L/s within a few nights: together nothing changed. Check meter M2 between them",
        ),
        (
            "zone",
            run(fell_l_s=0.2),
            {"nearby": work("valve_operation")},
            "leak",
            "night flow rose by 0.62 L/s from one night to the next and stayed up; partly gone: "
            "0.2 L/s less since; a valve operation at V1 on 2025-04-11 fell on the same days: "
            "check that it is not the cause",
        ),
        (
            "building",
            run(),
            {},
            "building_flow",
            "night flow rose by 0.42 L/s from one night to the next and stayed up",
        ),
    ],
)
def test_kinds_and_reasons(
    place: str, what: Run, more: dict[str, Any], kind: str, reason: str
) -> None:
    assert told(place, what, **more) == (kind, reason)
