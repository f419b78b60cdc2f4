"""The exponent told from steps of pressure, and not from leaks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.exponent_fit import Fit, fit_exponent

NIGHTS = 240
TWICE_DOWN = ((60, 90, 0.75), (150, 200, 0.8))
"""First night, night after the last, and share of the pressure left."""


def record(
    *,
    exponent: float = 1.2,
    steps: Any = TWICE_DOWN,
    leaks: Any = (),
    seed: int = 1,
    noise_l_s: float = 0.05,
    **changes: Any,
) -> Fit | str:
    rng = np.random.default_rng(seed)
    pressure = np.full(NIGHTS, 45.0)
    for first, after, left in steps:
        pressure[first:after] *= left
    base = np.ones(NIGHTS)
    for first, flow_l_s in leaks:
        base[first:] += flow_l_s
    flow = base * (pressure / 45.0) ** exponent + rng.normal(0, noise_l_s, NIGHTS)
    given: dict[str, Any] = {
        "random_l_s": np.full(NIGHTS, noise_l_s),
        "systematic_l_s": np.zeros(NIGHTS),
        "pressure_m": pressure + rng.normal(0, 0.1, NIGHTS),
        "spread_m": np.full(NIGHTS, 2.0),
        "loggers_count": np.ones(NIGHTS),
        "most_deviation": 0.255,
    }
    return fit_exponent(flow, **(given | changes))


def fits(count: int = 60, **changes: Any) -> tuple[float, float]:
    """Mean of the fits of many records, and the share whose limits hold the truth."""
    found = [f for seed in range(count) if isinstance(f := record(seed=seed, **changes), Fit)]
    assert len(found) >= 0.9 * count
    truth = changes.get("exponent", 1.2)
    held = [abs(f.exponent - truth) <= 1.96 * f.deviation for f in found]
    return float(np.mean([f.exponent for f in found])), float(np.mean(held))


@pytest.mark.parametrize("exponent", [0.6, 1.2, 2.0])
def test_steps_of_pressure_tell_the_exponent(exponent: float) -> None:
    mean, held = fits(exponent=exponent)
    assert mean == pytest.approx(exponent, abs=0.06)
    assert held >= 0.9


def test_leaks_and_repairs_between_the_steps_are_not_taken_for_pressure() -> None:
    mean, held = fits(leaks=((30, 0.5), (120, 0.4), (220, -0.7)))
    assert mean == pytest.approx(1.2, abs=0.06)
    assert held >= 0.9


def test_a_leak_on_the_night_of_a_step_is_outvoted_by_the_others() -> None:
    mean, _ = fits(leaks=((60, 0.5),))
    assert mean == pytest.approx(1.2, abs=0.15)


def test_two_steps_that_contradict_each_other_tell_nothing() -> None:
    down = ((60, NIGHTS, 0.75), (150, NIGHTS, 0.75))
    found = record(steps=down, leaks=((60, 1.0),))
    assert isinstance(found, str)
    assert "do not agree" in found


def test_one_step_alone_could_be_a_repair() -> None:
    found = record(steps=((60, NIGHTS, 0.7),))
    assert found == "Night pressure did not step often enough to tell"


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"steps": ()}, "did not step often enough"),
        ({"noise_l_s": 0.4}, "did not change enough"),
        ({"loggers_count": np.zeros(NIGHTS)}, "Too few nights"),
        ({"systematic_l_s": np.full(NIGHTS, 0.5)}, "did not change enough"),
    ],
)
def test_a_poor_record_says_why(changes: dict[str, Any], why: str) -> None:
    found = record(**changes)
    assert isinstance(found, str)
    assert why in found


def test_use_that_lowers_pressure_is_not_taken_for_leakage() -> None:
    rng = np.random.default_rng(8)
    use = rng.gamma(2.0, 0.2, NIGHTS)
    # Each litre a second of use costs 8 m of head: what looks like leakage rises as pressure falls.
    found = fit_exponent(
        1.0 + use,
        random_l_s=np.full(NIGHTS, 0.05),
        systematic_l_s=np.zeros(NIGHTS),
        pressure_m=45.0 - 8.0 * use,
        spread_m=np.full(NIGHTS, 2.0),
        loggers_count=np.ones(NIGHTS),
        most_deviation=0.255,
    )
    assert isinstance(found, str)


def test_a_logger_that_comes_or_goes_is_no_change_of_pressure() -> None:
    loggers = np.ones(NIGHTS)
    for first, after, _ in TWICE_DOWN:
        loggers[first:after] = 2
    assert isinstance(record(loggers_count=loggers, exponent=0.0), str)


def test_what_is_common_to_all_nights_widens_the_limits() -> None:
    sure, unsure = record(), record(systematic_l_s=np.full(NIGHTS, 0.15))
    assert isinstance(sure, Fit)
    assert isinstance(unsure, Fit)
    assert unsure.exponent == sure.exponent
    assert unsure.deviation > sure.deviation
    assert sure.limits().low < sure.exponent < sure.limits().high
    assert (sure.changes_count, sure.nights_count) == (4, 51)
    assert sure.range_m == pytest.approx(45 * 0.25, abs=0.5)


def test_no_leakage_follows_nothing() -> None:
    quiet = record(exponent=1.0, leaks=((0, -1.0),))
    assert isinstance(quiet, str)


def test_limits_of_a_short_record_hold_the_truth_too() -> None:
    # Two steps in sixty nights: nine or so pairs, whose scatter is itself only roughly known.
    rng = np.random.default_rng(0)
    held = []
    for _ in range(300):
        exponent = rng.uniform(0.6, 1.5)
        down, up = np.sort(rng.choice(np.arange(10, 50, 9), 2, replace=False))
        pressure = np.full(60, 50.0)
        pressure[down:up] = 40.0
        flow = (pressure / 50.0) ** exponent * (1.0 + 0.03 * rng.normal(size=60))
        found = fit_exponent(
            flow,
            random_l_s=np.full(60, 0.015),
            systematic_l_s=np.zeros(60),
            pressure_m=pressure,
            spread_m=np.full(60, 0.01),
            loggers_count=np.ones(60),
            most_deviation=0.25,
        )
        if isinstance(found, Fit):
            held.append(abs(found.exponent - exponent) <= 1.96 * found.deviation)
    assert len(held) > 250
    # Normal limits would hold 89 of 100.
    assert 0.92 <= np.mean(held) <= 0.98
