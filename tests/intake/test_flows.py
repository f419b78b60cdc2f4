from __future__ import annotations

import math

import numpy as np
import pytest

from district.errors import Finding
from district.intake.devices import Device
from district.intake.entries import (
    GAP,
    IMPOSSIBLE,
    NEGATIVE,
    OK,
    RESET,
    SPIKE,
    STUCK,
    Flow,
)
from district.intake.flows import flow
from district.intake.notes import said_of
from district.intake.sound_path import SoundPath
from district.intake.spans import HOUR_US
from district.intake.transit import difference_and_sum


def run(
    kind: str, values: list[float] | np.ndarray, hours: list[float] | None = None, **more: object
) -> Flow:
    at_end = bool(more.pop("at_end", True))
    rate = more.pop("rate", None)
    device = device_of(kind, **more)
    times = np.arange(len(values)) if hours is None else np.array(hours)
    stamps = np.full(len(values), at_end)
    value = np.array(values, dtype=float)
    return flow(device, (times * HOUR_US).astype(np.int64), value, stamps, rate)  # type: ignore[arg-type]


def device_of(kind: str, **more: object) -> Device:
    word = "sensor" if kind in ("pressure", "wet_floor", "tank_level") else "meter"
    return Device("M", kind, word, float(more.pop("scale", 1.0)), **more)  # type: ignore[arg-type]


def said(f: Flow, device: Device | None = None) -> list[str]:
    return [note.got for note in notes(f, device)]


def notes(f: Flow, device: Device | None = None) -> list[Finding]:
    """What there is to say where the flow is of the whole record."""
    told = [n for tally in f.tallies for n in said_of(device or device_of("register"), tally)]
    return [*told, *f.notes]


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
    assert said(f) == [
        "1 reading at which a register fell, as after a change of meter (from 5019 to 2 by "
        "1970-01-01 20:00)"
    ]


def test_a_misread_register_loses_no_water() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[10], values[20] = 0, 9_000
    f = run("register", values)
    assert (f.quality == GAP).sum() == 2
    assert f.value.sum() == 78
    assert f.missing_count == 0
    assert said(f) == [
        "2 readings that the next ones contradict (0 on 1970-01-01 10:00, 9000 on 1970-01-01 20:00)"
    ]


def test_a_step_back_that_stays_is_negative() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[20:] -= 5
    f = run("register", values)
    assert np.flatnonzero(f.quality == NEGATIVE).tolist() == [19]
    assert math.isnan(f.value[19])
    assert said(f) == ["1 reading below the one before (from 538 to 535 by 1970-01-01 20:00)"]


def test_a_transfer_register_may_run_back() -> None:
    f = run("register", [100, 101, 99, 100], both_ways=True)
    assert f.value.tolist() == [1, -2, 1]
    assert f.quality.tolist() == [OK] * 3


def test_a_jump_up_that_stays_is_a_new_level_and_told() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[20:] += 10_000
    f = run("register", values)
    assert np.flatnonzero(f.quality == RESET).tolist() == [19]
    assert np.nansum(f.value) == 76
    assert said(f) == [
        "a register that jumped from 538 to 10540 by 1970-01-01 20:00 and went on from there"
    ]


def test_a_jump_up_the_rate_beside_it_bears_out_is_real() -> None:
    values = 500 + 2 * np.arange(40.0)
    values[20:] += 10_000
    rate = np.full(40, 2.0)
    # 10 000 m³ in the hour from 19 to 20: the mean of the rates at its ends.
    rate[19:21] = 10_000
    f = run("register", values, rate=rate, rate_scale=1.0)
    assert (f.quality == OK).all()
    assert f.value[19] == 10_002


@pytest.mark.parametrize("new", [3.0, 2_000.0], ids=["lower", "higher"])
def test_a_recorded_change_of_meter_is_no_fall_and_no_spike(new: float) -> None:
    values = np.append(500 + np.arange(20.0), new + np.arange(20.0))
    day = (0, 30 * HOUR_US)
    f = run("register", values, changes=(day,))
    assert np.flatnonzero(f.quality == RESET).tolist() == [19]
    assert np.nansum(f.value) == 38
    assert said(f) == [
        f"a register that went from 519 to {new:g} by 1970-01-01 20:00, when works record a "
        "change of meter"
    ]


def test_a_new_register_near_zero_is_no_rollover_where_works_say_so() -> None:
    values = [*(990.0 + np.arange(8)), 1.0, 2.0, 3.0]
    assert (run("register", values).quality == OK).all()
    f = run("register", values, changes=((7 * HOUR_US, 8 * HOUR_US),))
    assert np.flatnonzero(f.quality == RESET).tolist() == [7]


def test_flow_beyond_the_bore_is_impossible() -> None:
    values = 50.0 + np.arange(100) % 7
    values[40:45] += 350.0
    # 10 m/s through 100 mm is 283 m³/h.
    f = run("electromagnetic", values, most_m3_h=282.7, most_said="283 m³/h", most_column="bore_mm")
    assert np.flatnonzero(f.quality == IMPOSSIBLE).tolist() == list(range(40, 45))
    assert np.isnan(f.value[40:45]).all()
    assert said(f) == ["5 readings beyond what can pass, up to 410 m³/h"]


def test_a_record_mostly_beyond_the_bore_has_the_wrong_unit_and_stays() -> None:
    values = 1000.0 + np.arange(100) % 7
    f = run("electromagnetic", values, most_m3_h=283.0, most_said="283", most_column="bore_mm")
    assert (f.quality == OK).all()
    named = device_of("electromagnetic", most_column="bore_mm")
    assert said(f, named) == ["100 % of its readings beyond what can pass, up to 1\xa0000 m³/h"]
    assert said(f, device_of("electromagnetic")) == []


def test_one_pulse_more_than_can_pass_is_but_a_pulse() -> None:
    f = run("pulse", [3, 4, 3, 3], most_m3_h=3.5, resolution_m3=1.0)
    assert (f.quality == OK).all()


def test_travel_times_become_a_flow() -> None:
    # Regression value: L 0.2 m, 45°, c 1480 m/s, v 1.0 m/s give these times.
    up, down = np.full(30, 135.1997e-6), np.full(30, 135.0706e-6)
    difference, total = difference_and_sum(up, down)
    path = SoundPath(0.2, 45.0, 0.1, 0.94)
    f = run("transit_time", difference, rate=total, path=path)
    # v · 0.94 · π/4 · 0.1² m² · 3600 s = 26.58 m³ an hour.
    np.testing.assert_allclose(f.value, 26.58, rtol=1e-3)
    assert (f.quality == OK).all()


def test_pulses_times_their_weight_are_a_flow() -> None:
    # Regression value: 36 pulses of 10 L in 15 minutes are 1.44 m³/h.
    f = run("pulse", [36.0, 36.0], [0, 0.25], scale=0.01, resolution_m3=0.01)
    np.testing.assert_allclose(f.value / 0.25, 1.44)


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


def test_reverse_flow_of_a_transfer_meter_counts_negative() -> None:
    f = run("electromagnetic", [1.0, -0.5, 0.25], both_ways=True)
    assert f.value.tolist() == [1.0, -0.5, 0.25]
    assert f.quality.tolist() == [OK] * 3


@pytest.mark.parametrize(
    ("stop", "expected"),
    [
        ("", "none, as its role is neither transfer nor outlet"),
        ("V3", "none, as check valve V3 stands on its pipe"),
    ],
)
def test_water_does_not_run_back_through_an_inlet(stop: str, expected: str) -> None:
    f = run("electromagnetic", [1.0, -0.5, 0.25, 0.75], check_valve=stop)
    assert f.quality.tolist() == [OK, NEGATIVE, OK, OK]
    device = device_of("electromagnetic", check_valve=stop)
    assert [n.expected for n in notes(f, device)] == [expected]


def test_negative_pulses_cannot_be() -> None:
    f = run("pulse", [1, -2, 3])
    assert f.quality.tolist() == [OK, NEGATIVE, OK]
    assert said(f) == ["1 reading below zero"]


def test_pressure_in_metres() -> None:
    f = run("pressure", [4.0, 4.1, 99.0], scale=10.2)
    np.testing.assert_allclose(f.value[:2], [40.8, 41.82])
    assert f.quality.tolist() == [OK, OK, SPIKE]


def test_a_level_is_a_register_of_its_tank() -> None:
    f = run("tank_level", [210, 215, 213, 220], [0, 1, 2, 5], scale=0.01, surface_m2=200.0)
    assert spans(f) == [(0, 1), (1, 2), (2, 5)]
    np.testing.assert_allclose(f.value, [10, -4, 14])
    assert f.quality.tolist() == [OK, OK, GAP]
    assert (f.step_h, f.expected_count, f.missing_count) == (1.0, 5, 2)
    # A step of 1 cm over 200 m².
    assert f.resolution_m3 == pytest.approx(2.0)


@pytest.mark.parametrize("kind", ["register", "pulse", "electromagnetic", "pressure", "tank_level"])
def test_one_reading_alone(kind: str) -> None:
    f = run(kind, [1.0])
    assert f.expected_count in (0, 1)
    assert len(f.value) == (1 if kind == "pressure" else 0)
