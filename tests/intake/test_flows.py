from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.devices import Device
from district.intake.flows import GAP, HOUR_US, NEGATIVE, OK, RESET, SPIKE, STUCK, Flow, flow


def run(
    kind: str, values: list[float] | np.ndarray, hours: list[float] | None = None, **more: object
) -> Flow:
    at_end = bool(more.pop("at_end", True))
    word = "sensor" if kind in ("pressure", "wet_floor") else "meter"
    device = Device("M", kind, word, float(more.pop("scale", 1.0)), **more)  # type: ignore[arg-type]
    times = np.arange(len(values)) if hours is None else np.array(hours)
    stamps = np.full(len(values), at_end)
    value = np.array(values, dtype=float)
    return flow(device, (times * HOUR_US).astype(np.int64), value, stamps)


def spans(f: Flow) -> list[tuple[float, float]]:
    return [(s / HOUR_US, e / HOUR_US) for s, e in zip(f.start_us, f.end_us, strict=True)]


def test_a_register_is_differenced() -> None:
    f = run("register", [100, 101, 103, 103], scale=0.001)
    assert spans(f) == [(0, 1), (1, 2), (2, 3)]
    np.testing.assert_allclose(f.value, [0.001, 0.002, 0])
    assert f.quality.tolist() == [OK] * 3
    assert (f.step_h, f.expected_count, f.missing_count) == (1.0, 3, 0)


def test_a_missing_register_reading_is_bridged() -> None:
    f = run("register", [100, 101, 104, 105], [0, 1, 3, 4])
    assert f.quality.tolist() == [OK, GAP, OK]
    assert f.value.tolist() == [1, 3, 1]
    assert (f.expected_count, f.missing_count) == (4, 1)


def test_reads_on_foot_are_long_but_sound() -> None:
    f = run("register", [100, 130, 155, 190], [0, 2160, 4200, 6500])
    assert f.quality.tolist() == [OK] * 3


def test_a_rollover_keeps_its_volume() -> None:
    f = run("register", [99_998, 99_999, 1, 3], rollover=100_000.0)
    assert f.value.tolist() == [1, 2, 2]
    assert f.quality.tolist() == [OK] * 3


def test_a_new_meter_is_a_reset() -> None:
    values = [*(5_000 + np.arange(20.0)), *(np.arange(20.0) + 2)]
    f = run("register", values)
    assert np.flatnonzero(f.quality == RESET).tolist() == [19]
    assert math.isnan(f.value[19])
    assert np.nansum(f.value) == 38


def test_a_misread_register_loses_no_water() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[10], values[20] = 0, 9_000
    f = run("register", values)
    assert (f.quality == GAP).sum() == 2
    assert f.value.sum() == 78
    assert f.missing_count == 0


def test_a_step_back_that_stays_is_negative() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[20:] -= 5
    f = run("register", values)
    assert np.flatnonzero(f.quality == NEGATIVE).tolist() == [19]
    assert math.isnan(f.value[19])


def test_a_transfer_register_may_run_back() -> None:
    f = run("register", [100, 101, 99, 100], both_ways=True)
    assert f.value.tolist() == [1, -2, 1]
    assert f.quality.tolist() == [OK] * 3


def test_a_jump_up_that_stays_is_a_spike() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[20:] += 10_000
    f = run("register", values)
    assert np.flatnonzero(f.quality == SPIKE).tolist() == [19]
    assert np.nansum(f.value) == 76


@pytest.mark.parametrize(
    ("at_end", "first"), [(True, (-1.0, 0.0)), (False, (0.0, 1.0))], ids=["end", "start"]
)
def test_the_stamp_of_a_count(at_end: bool, first: tuple[float, float]) -> None:
    f = run("pulse", [5, 6, 7], scale=0.01, at_end=at_end, resolution_m3=0.01)
    assert spans(f)[0] == first
    np.testing.assert_allclose(f.value, [0.05, 0.06, 0.07])
    assert f.resolution_m3 == 0.01


def test_a_missing_count_is_absent() -> None:
    f = run("pulse", [5, 6, 5, 7], [0, 1, 2, 5])
    assert spans(f) == [(-1, 0), (0, 1), (1, 2), (4, 5)]
    assert (f.expected_count, f.missing_count) == (6, 2)


def test_a_rate_times_its_interval() -> None:
    f = run("electromagnetic", [1.0, 2.0, 1.5], [0, 0.25, 0.5], scale=3.6)
    np.testing.assert_allclose(f.value, [0.9, 1.8, 1.35])
    assert f.step_h == 0.25


def test_a_logger_set_anew_is_followed() -> None:
    hours = [*np.arange(0, 20, 0.25), *np.arange(20.75, 90, 1.0)]
    f = run("electromagnetic", np.full(len(hours), 1.0), list(hours))
    np.testing.assert_allclose((f.end_us - f.start_us)[[10, -10]] / HOUR_US, [0.25, 1.0])


def test_a_stuck_rate_is_empty() -> None:
    rng = np.random.default_rng(1)
    values = np.round(rng.uniform(1, 2, 100), 3)
    values[50:56] = 1.234
    f = run("transit_time", values)
    assert np.flatnonzero(f.quality == STUCK).tolist() == list(range(50, 56))
    assert np.isnan(f.value[50:56]).all()


def test_reverse_flow_of_a_rate_meter_counts_negative() -> None:
    f = run("electromagnetic", [1.0, -0.5, 0.25])
    assert f.value.tolist() == [1.0, -0.5, 0.25]
    assert f.quality.tolist() == [OK] * 3


def test_negative_pulses_cannot_be() -> None:
    assert run("pulse", [1, -2, 3]).quality.tolist() == [OK, NEGATIVE, OK]


def test_pressure_in_metres() -> None:
    f = run("pressure", [4.0, 4.1, 99.0], scale=10.2)
    np.testing.assert_allclose(f.value[:2], [40.8, 41.82])
    assert f.quality.tolist() == [OK, OK, SPIKE]


@pytest.mark.parametrize("kind", ["register", "pulse", "electromagnetic", "pressure"])
def test_one_reading_alone(kind: str) -> None:
    f = run(kind, [1.0])
    assert f.expected_count in (0, 1)
    assert len(f.value) == (1 if kind == "pressure" else 0)
