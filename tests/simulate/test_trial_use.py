"""What users draw: means, lumps, the course of the day."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.settings import Allowance, Settings
from district.simulate.trial_map import draw_map
from district.simulate.trial_use import (
    NIGHT,
    STEP_S,
    STEPS_A_DAY,
    bursts_l_s,
    common_days,
    course,
    draw_buildings,
    draw_use,
)

NIGHTS = pd.date_range("2025-03-03", periods=364, freq="D")


def rng() -> np.random.Generator:
    return np.random.default_rng(5)


def test_bursts_have_the_mean_and_the_variance_of_a_compound_poisson_law() -> None:
    # By hand: mean rate x time; variance (rate x time / burst) x burst² x (1 + (0.9 / 1.96)²).
    volume = bursts_l_s(rng(), np.full(200_000, 0.02), Allowance(l_property_h=1.7)) * STEP_S
    assert volume.mean() == pytest.approx(18.0, rel=0.01)
    assert volume.var() == pytest.approx(18.0 * 6.0 * 1.21, rel=0.03)
    assert (volume == 0).mean() == pytest.approx(np.exp(-3.0), rel=0.03)


@pytest.mark.parametrize("use_class", ["household", "commercial"])
def test_the_day_has_its_form_and_the_night_is_flat(use_class: str) -> None:
    form = course(use_class)
    assert len(form) == STEPS_A_DAY
    assert form.mean() == pytest.approx(1.0)
    assert not form[NIGHT].any()


def test_common_days_are_more_at_weekends_and_one_on_average() -> None:
    days = common_days(rng(), NIGHTS)
    weekend = NIGHTS.day_of_week >= 5
    assert days.mean() == pytest.approx(1.0)
    assert days[weekend].mean() > days[~weekend].mean() + 0.05


def test_allowances_without_spread_are_drawn_as_stated_by_night_and_day() -> None:
    exact = Settings(
        allowances={
            "household": Allowance(l_property_h=1.7, spread_share=0.0, l_property_d=350.0),
            "commercial": Allowance(l_property_h=8.0, spread_share=0.0, l_property_d=1200.0),
        }
    )
    drawn = draw_map(
        rng(), connections_count=2000, zones_count=1, with_pressure=False, metered_share=0.4
    )
    flow, customer_m3 = draw_use(rng(), drawn, exact, common_days(rng(), NIGHTS))
    count = drawn.taps.groupby("use_class")["properties"].sum()
    night_l_s = (1.7 * count["household"] + 8.0 * count["commercial"]) / 3600
    by_day = flow[1].reshape(len(NIGHTS), STEPS_A_DAY)
    assert by_day[:, NIGHT].mean() == pytest.approx(night_l_s, rel=0.01)
    day_m3 = 0.35 * count["household"] + 1.2 * count["commercial"]
    assert by_day.sum(axis=1).mean() * STEP_S / 1000 == pytest.approx(day_m3, rel=0.01)
    shown = drawn.taps[drawn.taps["meter_id"].str.startswith("C")]
    each_m3 = shown["properties"] * np.where(shown["use_class"] == "household", 0.35, 1.2)
    assert customer_m3.sum(axis=0).mean() == pytest.approx(each_m3.sum(), rel=0.02)
    assert not flow[0].any()


def test_buildings_draw_by_day_and_by_night() -> None:
    flows = draw_buildings(rng(), 3, np.ones(50)).reshape(3, 50, STEPS_A_DAY)
    assert (flows[:, :, NIGHT].mean(axis=(1, 2)) > 0).all()
    assert (flows.mean(axis=(1, 2)) > 3 * flows[:, :, NIGHT].mean(axis=(1, 2))).all()
