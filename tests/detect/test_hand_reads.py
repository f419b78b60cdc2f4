from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.hand_reads import between_readings
from district.schema.stored import EMPTY_PERIODS

OWN = pd.DataFrame({"step_l": [1.0], "rate_step_l_s": [0.0], "error_share": [0.02]}, index=["A"])


def periods(*rows: dict[str, Any]) -> pd.DataFrame:
    usual = {
        "device_id": "A",
        "start_utc": pd.Timestamp("2025-07-01 06:00", tz="UTC"),
        "end_utc": pd.Timestamp("2025-07-15 06:00", tz="UTC"),
        "inside_h": 0.0, "inside_m3": 0.0, "over_h": np.nan, "over_m3": np.nan,
        "usual_m3_h": 0.02,
    }  # fmt: skip
    return pd.DataFrame([{**usual, **r} for r in rows], columns=list(EMPTY_PERIODS.names()))


def flow_of(*rows: dict[str, Any]) -> pd.Series:
    return between_readings(periods(*rows), OWN, timezone="Europe/London").loc["A"]


def test_readings_at_leaving_and_coming_back() -> None:
    # 336 h, 400 L: a cut either way makes at most a step, by the triangle 0.80 of one at 95 %.
    found = flow_of({"inside_h": 336.0, "inside_m3": 0.4})
    slack = 1.96 / 6**0.5 + 0.02 * 400
    expected = [400 / 336, (400 - slack) / 336, (400 + slack) / 336]
    assert (found.iloc[:3].astype(float) * 3600).to_list() == pytest.approx(expected)
    assert found["first"] == pd.Timestamp("2025-07-01")
    assert found["last"] == pd.Timestamp("2025-07-15")


def test_the_cuts_of_two_readings_are_a_triangle() -> None:
    # Against a Monte Carlo: register cut at both ends of a volume of 3.4 steps.
    rng = np.random.default_rng(3)
    phase = rng.uniform(0, 1, 100_000)
    error = np.floor(phase + 3.4) - np.floor(phase) - 3.4
    assert (abs(error) <= 1.96 / 6**0.5).mean() >= 0.94 or abs(error).max() <= 1
    shares = rng.uniform(0, 10, 100_000)
    error = np.floor(phase + shares) - np.floor(phase) - shares
    assert (abs(error) <= 1.96 / 6**0.5).mean() == pytest.approx(0.95, abs=0.02)


def test_a_test_of_two_hours_without_use_shows_half_a_litre_an_hour() -> None:
    # Two hours without use: what the US EPA advises people to try (seen, nepis P100YTRV).
    two = {"end_utc": pd.Timestamp("2025-07-01 08:00", tz="UTC"), "inside_h": 2.0}
    none = flow_of({**two, "inside_m3": 0.0})
    assert none["constant_l_s_low"] == 0
    assert none["constant_l_s_high"] * 3600 == pytest.approx(0.4, abs=0.01)
    some = flow_of({**two, "inside_m3": 0.004})
    assert some["constant_l_s_low"] * 3600 == pytest.approx((4 - 0.8 - 0.08) / 2, abs=0.01)


def test_readings_around_it_may_hold_the_use_of_the_days_beside() -> None:
    # 400 h around 336 h empty: 64 h at up to three times 20 L/h may be use.
    found = flow_of({"over_h": 400.0, "over_m3": 5.0})
    slack = 1.96 / 6**0.5 + 0.02 * 5000
    assert found["constant_l_s_low"] * 3600 * 400 == pytest.approx(5000 - slack - 3 * 20 * 64)
    assert flow_of({"over_h": 400.0, "over_m3": 3.0})["constant_l_s_low"] == 0
    unknown = flow_of({"over_h": 400.0, "over_m3": 5.0, "usual_m3_h": np.nan})
    assert unknown["constant_l_s_low"] == 0


def test_the_last_time_read_counts_and_one_unread_has_no_row() -> None:
    early = {"inside_h": 336.0, "inside_m3": 9.0}
    late = {
        "start_utc": pd.Timestamp("2025-12-01", tz="UTC"),
        "end_utc": pd.Timestamp("2025-12-02", tz="UTC"),
    }
    read = {**late, "inside_h": 24.0}
    assert flow_of(early, read)["constant_l_s"] == 0
    assert flow_of(early, late)["constant_l_s"] > 0
    assert between_readings(periods({}), OWN, timezone="UTC").empty
