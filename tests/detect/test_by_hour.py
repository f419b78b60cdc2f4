"""What hours tell of a run: two zones by the hour, drawn from a seed."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import find_changes
from district.detect.by_hour import ByHour, hour_evidence
from district.detect.hours import gridded
from district.network import Network
from district.settings import Settings

DAYS, CHANGED = 120, 80
AXIS = pd.date_range("2025-01-01", periods=DAYS, freq="D")
SHAPE = 3.0 - 2.0 * np.cos(2 * np.pi * (np.arange(24) - 3) / 24)
AFTER = (np.arange(DAYS) >= CHANGED)[:, None]


def flow(seed: int, more: Any = 0.0) -> np.ndarray:
    scatter = np.random.default_rng(seed).normal(1, 0.05, (DAYS, 24))
    return np.asarray(SHAPE * scatter + more * AFTER)


@pytest.fixture
def told(network: Network, nights_of: Any, building_nights_of: Any, works_of: Any) -> Any:
    def run(zones: dict[str, np.ndarray]) -> ByHour:
        nights = {cell: f[:, 2:4].mean(axis=1) for cell, f in zones.items()}
        changed = find_changes(
            nights_of(nights),
            building_nights_of({}),
            network=network,
            works=works_of([]),
            settings=Settings(),
        )
        hourly = pd.concat(
            pd.DataFrame(
                {
                    "cell_id": cell,
                    "day": np.repeat(AXIS, 24),
                    "hour": np.tile(np.arange(24), DAYS),
                    "flow_l_s": f.ravel(),
                }
            )
            for cell, f in zones.items()
        )
        return hour_evidence(changed, gridded(hourly, AXIS), settings=Settings())

    return run


def likeliest(found: ByHour) -> tuple[str, str]:
    (seen,) = found.causes.values()
    return max(seen.log, key=lambda k: seen.log[k]), seen.text


def test_a_leak_is_the_same_at_all_hours(told: Any) -> None:
    kind, text = likeliest(told({"V1": flow(1, 0.5)}))
    assert kind == "leak"
    assert text.startswith("it is about the same at all hours (0.")


def test_a_wrong_meter_follows_the_flow(told: Any) -> None:
    kind, text = likeliest(told({"V1": flow(2) * (1 + 0.3 * AFTER)}))
    assert kind == "meter_fault"
    share = re.fullmatch(
        r"it follows the flow hour by hour, as if (\d+) % too much were read", text
    )
    assert share is not None
    assert int(share[1]) == pytest.approx(30, abs=3)


def test_a_meter_that_stands_still(told: Any) -> None:
    stuck = np.where(AFTER, 4.0, flow(3))
    kind, text = likeliest(told({"V1": stuck}))
    assert kind == "meter_fault"
    assert text == "the flow has hardly varied by the hour since"


def test_a_night_shift_comes_and_goes(told: Any) -> None:
    shift = np.where((np.arange(24) >= 22) | (np.arange(24) < 6), 0.8, 0.0)
    kind, text = likeliest(told({"V1": flow(4, shift)}))
    assert kind == "use"
    assert text.startswith("it comes and goes by the hour, most at ")


def test_the_zone_behind_the_meter_tells_whether_water_moved(told: Any) -> None:
    moved = told({"V1": flow(5, 0.6), "V2": flow(6, -0.6)})
    alone = told({"V1": flow(5, 0.6), "V2": flow(6)})
    assert moved.moved["V1", CHANGED]["V2"] > 1
    assert alone.moved["V1", CHANGED]["V2"] < -3


def test_without_hours_nothing_is_told(told: Any) -> None:
    few = flow(7, 0.5)
    few[: CHANGED - 4] = np.nan
    few[:, 2:4] = flow(7, 0.5)[:, 2:4]
    few[: CHANGED - 4, 2:4] = np.nan
    assert told({"V1": few}).causes == {}
