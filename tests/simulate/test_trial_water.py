"""True leakage and pressure."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.settings import Background, Pressure, Settings
from district.simulate.trial_map import TrialMap, draw_map
from district.simulate.trial_use import NIGHT, STEPS_A_DAY
from district.simulate.trial_water import FACTOR_H_D, Leaks, Water, draw_water, skewed

NIGHTS = pd.date_range("2025-03-03", periods=80, freq="D")
CERTAIN = Settings(
    pressure=Pressure(assumed_spread_m=0.0),
    background=Background(condition_factor_low=1.5, condition_factor_high=1.5),
)


def drawn(seed: int = 3, *, zones_count: int = 6, **how: Any) -> tuple[TrialMap, Water]:
    rng = np.random.default_rng(seed)
    plan = draw_map(
        rng,
        connections_count=1200,
        zones_count=zones_count,
        with_pressure=how.pop("with_pressure", False),
        metered_share=0.3,
    )
    how = {"settings": Settings(), "nights": NIGHTS, "leaks": Leaks()} | how
    return plan, draw_water(rng, plan, **how)


def test_skewed_draws_have_their_limits() -> None:
    found = skewed(np.random.default_rng(1), (0.7, 1.5, 3.0), 200_000)
    assert np.percentile(found, [2.5, 50, 97.5]) == pytest.approx([0.7, 1.5, 3.0], rel=0.02)


def test_background_without_leaks_is_that_of_the_components() -> None:
    plan, water = drawn(settings=CERTAIN, leaks=Leaks(per_zone_count=0.0))
    cells = plan.cells
    # By hand: components at 50 m, condition 1.5, brought to 40 m.
    hourly = 20 * cells["mains_km"] + 1.25 * cells["connections_count"] + 33 * cells["private_km"]
    expected = (hourly * 1.5 * 0.8**1.5 / 3600).to_numpy()
    night = water.leakage_l_s.reshape(len(cells), len(NIGHTS), -1)[:, :, NIGHT]
    assert night.mean(axis=(1, 2)) == pytest.approx(expected, rel=0.01)
    assert water.leaks.empty


def test_leaks_run_from_start_to_end() -> None:
    plan, water = drawn(zones_count=30, leaks=Leaks(per_zone_count=1.0, median_l_s=5.0))
    by_night = water.leakage_l_s.reshape(31, len(NIGHTS), STEPS_A_DAY)[:, :, NIGHT].mean(axis=2)
    alone = ~water.leaks["cell_id"].duplicated(keep=False)
    sudden = water.leaks[alone & (water.leaks["growing_d"] == 0) & (water.leaks["start_d"] > 2)]
    assert len(sudden) > 2
    for leak in sudden.itertuples():
        flow = by_night[plan.cells.index.get_indexer([leak.cell_id])[0]]
        first = int(np.ceil(leak.start_d))
        assert flow[first] - flow[first - 1] == pytest.approx(leak.flow_l_s, rel=0.1)
        if leak.end_d < len(NIGHTS) - 1:
            last = int(leak.end_d)
            assert flow[last] - flow[last + 1] == pytest.approx(leak.flow_l_s, rel=0.1)
    ended = water.leaks["end_d"].between(0, len(NIGHTS) - 1)
    assert (water.works["kind"] == "repair").sum() == ended.sum()


def test_night_to_day_factors_are_those_assumed_where_no_logger_is() -> None:
    factors = []
    for seed in range(6):
        _, water = drawn(seed, zones_count=30, leaks=Leaks(per_zone_count=0.0))
        by_day = water.leakage_l_s.reshape(31, len(NIGHTS), -1)
        factors += list((24 * by_day.mean(axis=2) / by_day[:, :, NIGHT].mean(axis=2)).mean(axis=1))
    low, usual, high = np.percentile(factors, [2.5, 50, 97.5])
    assert (low, usual, high) == pytest.approx(FACTOR_H_D, abs=0.9)


def test_pressure_falls_by_day_where_loggers_stand() -> None:
    plan, water = drawn(with_pressure=True)
    zones = plan.cells.index.isin(plan.loggers["cell_id"])
    falls = water.loss_m[zones]
    assert (falls[:, :, 2:4] == 0).all()
    assert (falls >= 0).all()
    assert (water.pressure_m > 0).all()


def test_flushing_is_water_that_is_not_leakage() -> None:
    for seed in range(9):
        plan, water = drawn(seed)
        flushed = water.works[water.works["kind"] == "flushing"]
        for work in flushed.itertuples():
            cell = plan.cells.index.get_indexer([work.place_id])[0]
            night = int((work.start.tz_localize(None).normalize() - NIGHTS[0]).days)
            use = water.other_l_s[cell].reshape(len(NIGHTS), -1)[:, NIGHT].mean(axis=1)
            assert use[night] > np.median(use) + 0.4
        assert water.works["start"].dt.tz is not None
