"""Users read by the day, typed by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import find_changes, find_events
from district.detect.users import daily_evidence
from district.network import Network
from district.settings import Settings

T = np.arange(365)
AXIS = pd.date_range("2025-01-01", periods=365, freq="D")


def volumes(values: np.ndarray, device: str = "B2") -> pd.DataFrame:
    noise = np.random.default_rng(1).normal(0, 0.5, len(values))
    return pd.DataFrame(
        {
            "device_id": device,
            "day": AXIS[: len(values)],
            "volume_m3": values + noise,
            "coverage_share": 1.0,
            "spread_share": 0.0,
        }
    )


@pytest.fixture
def tables(
    network: Network, nights_of: Any, building_nights_of: Any, works_of: Any, quiet: Any
) -> dict[str, Any]:
    return {
        "nights": nights_of({"V2": quiet(365, 1) + 0.4 * (T >= 200)}),
        "building_nights": building_nights_of({}),
        "network": network,
        "works": works_of([]),
        "settings": Settings(),
    }


def test_a_user_who_draws_more_since_speaks_for_use(tables: Any, network: Any) -> None:
    # 0.4 L/s are 35 m3 a day.
    changed = find_changes(**tables)
    found = daily_evidence(changed, volumes(20.0 + 30.0 * (T >= 200)), network=network)
    ((key, (seen,)),) = found.items()
    assert key == ("V2", changed.runs[0][1].position)
    assert seen.log["use"] > 0
    assert seen.text == "meter B2, read by the day, rose by 30 m³ a day"


@pytest.mark.parametrize(
    "daily",
    [
        volumes(20.0 + 0.0 * T),
        volumes(20.0 + 3.0 * (T >= 200)),  # too little for the rise
        volumes(20.0 + 30.0 * (T >= 120)),  # at another time
        volumes(20.0 + 30.0 * (T >= 200), "elsewhere"),
        volumes(20.0 + 30.0 * (T >= 200)).assign(spread_share=1.0),  # read once a month
        volumes(20.0 + 30.0 * (T >= 200)).assign(coverage_share=0.4),
    ],
)
def test_what_does_not_speak(tables: Any, network: Any, daily: pd.DataFrame) -> None:
    assert daily_evidence(find_changes(**tables), daily, network=network) == {}


def test_without_volumes_nothing_is_told(tables: Any, network: Any) -> None:
    assert daily_evidence(find_changes(**tables), None, network=network) == {}


def test_the_event_becomes_less_likely_a_leak(tables: Any, alarms_of: Any) -> None:
    plain = find_events(**tables, alarms=alarms_of([])).events
    told = find_events(
        **tables, alarms=alarms_of([]), daily_volumes=volumes(20.0 + 30.0 * (T >= 200))
    )
    causes = told.causes.set_index("kind")["probability_share"]
    assert plain.loc[0, "kind"] == "leak"
    assert causes["use"] > 0.4
    assert "read by the day" in told.causes.set_index("kind")["reason"]["use"]
