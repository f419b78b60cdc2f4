"""Hours laid side by side, and their means."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.locate.pressure_days import windows
from district.locate.pressure_hours import (
    BLOCKS_COUNT,
    by_day_and_block,
    by_hour,
    known_days,
    side_by_side,
)
from district.schema.columns import empty
from district.schema.event_tables import EVENTS
from tests.locate.pressure_zone import DAYS, leaking_zone

ZONE = leaking_zone(1, noise_m=0.0)
HEARD = ZONE.heard
NAMES = HEARD.calibrated.drawn.logger_id


def _hours(pressures: pd.DataFrame):  # type: ignore[no-untyped-def]
    compared = windows(ZONE.sought, empty(EVENTS), DAYS)
    return side_by_side(HEARD.demands, 0, pressures, NAMES, compared), compared


def test_every_known_day_is_known() -> None:
    assert list(known_days(HEARD.demands, 0, HEARD.pressures)) == list(DAYS)


def test_what_is_drawn_is_what_flows_in() -> None:
    hours, compared = _hours(HEARD.pressures)
    assert len(hours.hour) == 24 * len(compared.course)
    inflow = HEARD.demands.rest_l_s[:, 0].reshape(len(DAYS), 24)
    kept = np.r_[0:10, 11:20]
    assert np.allclose(hours.drawn_l_s.sum(axis=1), inflow[kept].ravel())


def test_blocks_hold_six_hours_each_from_low_to_high_draw() -> None:
    hours, _ = _hours(HEARD.pressures)
    assert np.bincount(hours.block).tolist() == [6] * BLOCKS_COUNT
    usual = by_hour(hours.use_l_s, hours.hour)[:, 0]
    means = [usual[hours.block == b].mean() for b in range(BLOCKS_COUNT)]
    assert means == sorted(means)


def test_a_missing_reading_is_missing_and_half_a_block_is_too_few() -> None:
    first = HEARD.pressures["day"] == DAYS[0]
    lost = first & (HEARD.pressures["device_id"] == NAMES[0]) & (HEARD.pressures["hour"] < 16)
    hours, compared = _hours(HEARD.pressures[~lost])
    assert np.isnan(hours.pressure_m[:, 0]).sum() == 16
    daily = by_day_and_block(hours.pressure_m, hours, len(compared.course))
    assert np.isnan(daily[0, :, 0]).any()
    assert np.isfinite(daily[1:]).all()
