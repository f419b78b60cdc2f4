from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.district import district_balance
from district.balance.meter_errors import below_q1, error_l_s, meter_errors
from district.balance.night import night_balance

IDS = pd.Index(["A", "B"], dtype=object)


def errors_of(**plate: Any) -> Any:
    meters = pd.DataFrame({k: [v, np.nan] for k, v in plate.items()}, index=IDS)
    return meter_errors(IDS, pd.Series([2.0, np.nan], index=IDS), meters)


def test_without_a_plate_the_stated_error_holds_at_every_flow() -> None:
    flows = np.array([[0.0, 0.001], [1.0, 10.0]])
    assert error_l_s(flows, errors_of()).tolist() == [[0.0, 0.00002], [0.02, 0.2]]
    assert not below_q1(flows[0], errors_of()).any()


def test_a_plate_without_class_leaves_the_stated_error_above_q2() -> None:
    meters = pd.DataFrame({"q3_m3_h": [36.0, np.nan], "ratio_r": [100.0, np.nan]}, index=IDS)
    found = meter_errors(IDS, pd.Series([1.0, 1.0], index=IDS), meters)
    # Q1 is 36/100 m³/h = 0.1 L/s, Q2 0.16 L/s.
    assert error_l_s(np.array([0.2, 0.2]), found).tolist() == [0.002, 0.002]
    assert error_l_s(np.array([0.12, 0.12]), found) == pytest.approx([0.006, 0.0012])


def test_below_q1_what_is_lacking_is_not_known() -> None:
    found = errors_of(q3_m3_h=36.0, ratio_r=100.0)
    assert error_l_s(np.array([0.0, 0.0]), found).tolist() == pytest.approx([0.105, 0.0])
    # No step at Q1.
    at = error_l_s(np.array([[0.1 - 1e-9, 0], [0.1, 0]]), found)[:, 0]
    assert at[0] == pytest.approx(at[1], abs=1e-8)
    assert below_q1(np.array([0.05, 0.0]), found).tolist() == [True, False]


def test_a_profile_factor_by_the_flow_adds_its_own_error() -> None:
    found = errors_of(path_length_mm=200.0, bore_mm=100.0)
    # Re 4000 in 100 mm is 4000·1.3e-6·π/4·0.1 m³/s = 0.41 L/s.
    fast, slow = error_l_s(np.array([[5.0, 5.0], [0.3, 0.3]]), found)
    assert fast == pytest.approx([5 * np.hypot(0.02, 0.02), 0.1])
    assert slow[0] == pytest.approx(0.3 * np.hypot(np.hypot(0.02, 0.02), 0.11))
    stated = errors_of(path_length_mm=200.0, bore_mm=100.0, profile_factor=0.94)
    assert error_l_s(np.array([5.0, 5.0]), stated).tolist() == [0.1, 0.1]


def test_a_meter_without_a_bore_takes_that_of_its_pipe() -> None:
    at = np.array([0.2, 0.2])  # L/s; Re 4000 in 100 mm is 0.41 L/s.
    # Common practice, no source: ±2 % by the factor, ±11 % in slow flow, beside the meter's ±2 %.
    slow, fast = np.hypot(np.hypot(0.02, 0.02), 0.11), np.hypot(0.02, 0.02)
    assert error_l_s(at, errors_of(path_length_mm=200.0, pipe_bore_mm=100.0))[0] / 0.2 == (
        pytest.approx(slow)
    )
    # Its own bore counts first: in 20 mm the same flow is Re 9800, turbulent.
    own = errors_of(path_length_mm=200.0, bore_mm=20.0, pipe_bore_mm=100.0)
    assert error_l_s(at, own)[0] / 0.2 == pytest.approx(fast)
    # A pipe's diameter makes no other meter go by it.
    assert error_l_s(at, errors_of(pipe_bore_mm=100.0))[0] == pytest.approx(0.2 * 0.02)


def test_the_night_balance_widens_below_q2_and_says_so(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    plain = make_network()
    first = plain.meters.index == "M1"
    meters = plain.meters.assign(
        q3_m3_h=np.where(first, 3600.0, np.nan), ratio_r=np.where(first, 40.0, np.nan)
    )
    reduced = make_reduced()
    before = night_balance(plain, reduced, settings=settings, works=no_works)
    network = make_network(meters=meters)
    after = night_balance(network, reduced, settings=settings, works=no_works)

    def width(found: Any) -> float:
        north = found.nights[found.nights["cell_id"] == "North"].dropna(subset="inflow_l_s")
        return float((north["inflow_l_s_high"] - north["inflow_l_s_low"]).median())

    # Q1 is 25 L/s, far above what the zone draws.
    assert width(after) > 2 * width(before)
    said = district_balance(network, reduced, settings=settings, works=no_works).basis.limits
    assert any("At night M1 usually runs below the minimum flow Q1" in line for line in said)
