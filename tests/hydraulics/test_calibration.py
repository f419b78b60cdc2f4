"""Tests of `district.hydraulics.calibration` on zones whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics import Calibrated, calibrate, solve
from district.hydraulics.model import Model, Reals
from district.hydraulics.update import GROUP_SPREAD
from tests.hydraulics.known_zone import KnownZone, known_zone

SEEDS = range(500, 516)


def _calibrated(zone: KnownZone) -> Calibrated:
    return calibrate(zone.drawn, zone.demands, zone.pressures)


def _true_log(zone: KnownZone) -> Reals:
    return np.log(zone.true_model.roughness / zone.drawn.model.roughness)


def test_limits_hold_the_true_roughness_and_offsets_in_about_95_of_100() -> None:
    """Zones drawn from the spreads that the fit assumes: what it says of itself must hold."""
    held, told, narrowed, nearer = [], [], [], []
    for seed in SEEDS:
        zone = known_zone(seed)
        fitted, true = _calibrated(zone), _true_log(zone)
        for row in fitted.groups.itertuples():
            own = zone.drawn.group == row.group
            factor = np.exp(np.average(true[own], weights=zone.drawn.model.length_m[own]))
            held.append(row.factor_index_low <= factor <= row.factor_index_high)
        table = fitted.loggers
        told += list(zone.offset_m == zone.offset_m.clip(table["offset_m_low"],
                                                         table["offset_m_high"]))  # fmt: skip
        span = np.log(fitted.groups["factor_index_high"] / fitted.groups["factor_index_low"])
        narrowed += list(span / (2 * 1.96 * GROUP_SPREAD))
        log = np.log(fitted.drawn.model.roughness / zone.drawn.model.roughness)
        nearer.append(np.mean((log - true) ** 2) / np.mean(true**2))
        assert fitted.reason == ""
    # 64 factors and 128 offsets: at 95 of 100, fewer than 57 and 113 would be one case in 100.
    assert np.mean(held) >= 57 / 64
    assert np.mean(told) >= 113 / 128
    assert np.median(narrowed) < 0.8
    assert np.median(nearer) < 0.8


def test_residuals_shrink_to_the_noise() -> None:
    zone = known_zone(40)
    table = _calibrated(zone).loggers
    assert table["used"].all()
    assert (table["after_m"] < 0.15).all()
    assert (table["after_m"] < table["course_m"] / 5).all()
    assert (table["before_m"] > 2 * table["after_m"]).all()


def test_a_logger_that_reads_3_m_too_high_is_corrected() -> None:
    zone = known_zone(41)
    off = zone.pressures.copy()
    off.loc[off["device_id"] == "L3", "pressure_m"] += 3.0
    plain, moved = _calibrated(zone), calibrate(zone.drawn, zone.demands, off)
    assert moved.offset_m[3] - plain.offset_m[3] == pytest.approx(3.0, abs=0.05)
    np.testing.assert_allclose(np.delete(moved.offset_m, 3), np.delete(plain.offset_m, 3), atol=0.1)
    assert moved.usable.all()


def test_one_wild_logger_is_left_out_and_does_not_spoil_the_others() -> None:
    zone = known_zone(42)
    wild = zone.pressures.copy()
    own = wild["device_id"] == "L5"
    wild.loc[own, "pressure_m"] += 6.0 * np.sin(wild.loc[own, "hour"])
    plain, moved = _calibrated(zone), calibrate(zone.drawn, zone.demands, wild)
    assert not moved.usable[5]
    assert np.delete(moved.usable, 5).all()
    log = np.log(moved.drawn.model.roughness / plain.drawn.model.roughness)
    assert np.abs(log).max() < 0.1


def test_a_group_that_no_logger_tells_of_keeps_what_was_told() -> None:
    zone = known_zone(43)
    group = zone.drawn.group.copy()
    state = solve(zone.drawn.model, zone.demands.node_l_s()[12])
    still = np.argsort(np.abs(state.flow_l_s))[:2]
    group[still] = "still"
    fitted = calibrate(replace(zone.drawn, group=group), zone.demands, zone.pressures)
    row = fitted.groups.set_index("group").loc["still"]
    assert row["rests_on"] == "assumption"
    assert row["factor_index_low"] < 1.0 < row["factor_index_high"]


def test_draws_are_alternatives_about_the_fit() -> None:
    zone = known_zone(44)
    fitted = calibrate(zone.drawn, zone.demands, zone.pressures, draws_count=200)
    assert fitted.roughness.shape == (200, len(zone.drawn.model.link_id))
    logs = np.log(fitted.roughness)
    np.testing.assert_allclose(logs.mean(axis=0), np.log(fitted.drawn.model.roughness), atol=0.06)
    off = (np.log(zone.true_model.roughness) - logs.mean(axis=0)) / logs.std(axis=0)
    assert 0.7 < off.std() < 1.4
    again = calibrate(zone.drawn, zone.demands, zone.pressures, draws_count=200)
    np.testing.assert_array_equal(again.roughness, fitted.roughness)


def _with_main_drawn_shut(zone: KnownZone) -> Model:
    """The model with its busiest pipe shut that cuts nobody off."""
    model, demand = zone.drawn.model, zone.demands.node_l_s()[12]
    flow = np.abs(solve(zone.true_model, demand).flow_l_s)
    for link in np.argsort(-flow):
        is_open = model.is_open.copy()
        is_open[link] = False
        shut = replace(model, is_open=is_open)
        if solve(shut, demand).reached.all():
            return shut
    raise AssertionError("no loop")


def test_a_valve_drawn_shut_that_is_open_worsens_the_residuals_and_is_said() -> None:
    warned, worse, before = [], [], []
    for seed in range(606, 612):
        zone = known_zone(seed)
        right = _calibrated(zone)
        wrong = _calibrated(
            replace(zone, drawn=replace(zone.drawn, model=_with_main_drawn_shut(zone)))
        )
        warned.append([bool(right.warning or right.reason), bool(wrong.warning or wrong.reason)])
        worse.append(wrong.loggers["after_m"].mean() / right.loggers["after_m"].mean())
        before.append(wrong.loggers["before_m"].mean() / right.loggers["before_m"].mean())
    falsely, rightly = np.mean(warned, axis=0)
    assert falsely <= 0.2
    assert rightly >= 0.6
    assert np.mean(np.array(before) > 1.0) >= 0.6
    assert np.median(worse) > 1.0


def test_hours_of_a_running_leak_can_be_left_out() -> None:
    zone = known_zone(45)
    days = zone.demands.hours["day"].unique()
    leaking = zone.pressures.copy()
    leaking.loc[leaking["day"] == days[1], "pressure_m"] -= 5.0
    first = calibrate(zone.drawn, zone.demands, leaking, days=[days[0]])
    plain = calibrate(zone.drawn, zone.demands, zone.pressures, days=[days[0]])
    np.testing.assert_array_equal(first.offset_m, plain.offset_m)


def test_an_unlevelled_logger_is_used_for_its_changes() -> None:
    zone = known_zone(46)
    level = zone.drawn.logger_level_m.copy()
    level[1] = np.nan
    fitted = calibrate(replace(zone.drawn, logger_level_m=level), zone.demands, zone.pressures)
    assert fitted.usable[1]
    assert np.isfinite(fitted.offset_m[1])


def test_why_nothing_can_be_fitted_is_said() -> None:
    zone = known_zone(47)
    none = zone.demands.hours.iloc[:0]
    bare = replace(zone.demands, hours=none, rest_l_s=zone.demands.rest_l_s[:0],
                   measured_l_s=zone.demands.measured_l_s[:0])  # fmt: skip
    assert calibrate(zone.drawn, bare, zone.pressures).reason == (
        "No zone meter is read by the hour."
    )
    few = zone.pressures.iloc[:20]
    assert calibrate(zone.drawn, zone.demands, few).reason == (
        "No pressure logger has 24 hours that the zone meters have too."
    )
    assert calibrate(zone.drawn, zone.demands, zone.pressures, days=[]).reason == (
        "No pressure logger has 24 hours that the zone meters have too."
    )
    shut = replace(zone.drawn.model, is_open=np.zeros(len(zone.drawn.model.link_id), dtype=bool))
    assert (
        calibrate(replace(zone.drawn, model=shut), zone.demands, zone.pressures).reason
        == "No source reaches a pressure logger in the model."
    )
    alone = replace(zone.drawn, logger_id=zone.drawn.logger_id[:0], watch=zone.drawn.watch[:0],
                    logger_level_m=zone.drawn.logger_level_m[:0])  # fmt: skip
    assert calibrate(alone, zone.demands, zone.pressures).reason == (
        "No pressure logger stands on a pipe."
    )
