"""What is left once the flows are taken out, in a zone without noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.locate.pressure_days import Windows, windows
from district.locate.pressure_hours import BLOCKS_COUNT, Hours, side_by_side
from district.locate.pressure_residuals import drawings, slope_weight, unexplained
from district.schema.columns import empty
from district.schema.event_tables import EVENTS
from tests.locate.pressure_zone import DAYS, leaking_zone

ZONE = leaking_zone(1, noise_m=0.0)


def _laid() -> tuple[Hours, Windows]:
    heard = ZONE.heard
    compared = windows(ZONE.sought, empty(EVENTS), DAYS)
    names = heard.calibrated.drawn.logger_id
    return side_by_side(heard.demands, 0, heard.pressures, names, compared), compared


def test_a_step_has_the_weights_of_two_means() -> None:
    weight = slope_weight(np.array([0.0, 0.0, 1.0, 1.0, 1.0, 1.0]))
    assert weight == pytest.approx([-0.5, -0.5, 0.25, 0.25, 0.25, 0.25])


def test_what_is_drawn_more_is_the_leak() -> None:
    hours, compared = _laid()
    halfway, change = drawings(hours, compared)
    assert change.node_l_s.sum(axis=1) == pytest.approx(1.0, abs=0.1)
    assert halfway.use_l_s[:, 0] == pytest.approx(halfway.node_l_s.sum(axis=1))


def test_without_sensitivity_the_whole_change_is_left() -> None:
    hours, compared = _laid()
    nothing = np.zeros((BLOCKS_COUNT, hours.pressure_m.shape[1], hours.drawn_l_s.shape[1]))
    left = unexplained(hours, nothing, compared)
    by_day = np.array([hours.pressure_m[hours.day == d].mean(axis=0) for d in range(19)])
    assert left.change_m.mean(axis=0) == pytest.approx(by_day[10:].mean(0) - by_day[:10].mean(0))
    assert left.read.all()
    assert left.before_m.mean(axis=0) == pytest.approx(0.0, abs=1e-12)


def test_missing_days_bias_nothing_and_too_few_are_told() -> None:
    hours, compared = _laid()
    nothing = np.zeros((BLOCKS_COUNT, hours.pressure_m.shape[1], hours.drawn_l_s.shape[1]))
    whole = unexplained(hours, nothing, compared)
    pressure = hours.pressure_m.copy()
    pressure[(hours.day > 1) & (hours.day < 6), 0] = np.nan
    pressure[hours.day > 11, 1] = np.nan
    left = unexplained(replace(hours, pressure_m=pressure), nothing, compared)
    assert left.read.tolist() == [True, False, True, True, True]
    assert left.change_m[:, 0] == pytest.approx(whole.change_m[:, 0], abs=0.05)
